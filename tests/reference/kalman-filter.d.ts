/** The part of kalman-filter 2.3.0 (MIT, no types of its own) that the tests use. */
declare module 'kalman-filter' {
  type Matrix = number[][];
  export interface State {
    mean: Matrix;
    covariance: Matrix;
    index?: number;
  }
  export class KalmanFilter {
    constructor(options: {
      observation: { dimension: number; stateProjection: Matrix; covariance: Matrix };
      dynamic: {
        dimension: number;
        init: { mean: Matrix; covariance: Matrix };
        transition: Matrix;
        covariance: Matrix;
      };
    });
    filter(options: { previousCorrected?: State | undefined; observation: number[] }): State;
  }
}
