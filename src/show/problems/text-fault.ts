/** Something wrong with the text, in words, and where: an offset in it. */
export interface TextFault {
  readonly message: string;
  readonly offset: number;
}
