/**
 * `on`: on stage, as far as is known. `leaving`: sent off, but still heard on the stage. `away`: off stage, until
 * they are heard on it again.
 */
export type StageState = 'on' | 'leaving' | 'away';
