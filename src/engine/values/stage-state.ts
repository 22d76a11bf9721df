/**
 * `on`: on stage, as far as is known. `leaving`: sent off, and still heard on the stage. `away`: off stage, until they
 * are heard on the stage again.
 */
export type StageState = 'on' | 'leaving' | 'away';
