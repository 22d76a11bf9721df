/** `a, b and c`; at most `most` of them. @param joint `or` after a negation: nobody was in a, b or c */
export function enumerated(
  words: readonly string[],
  most = 8,
  joint: 'and' | 'or' = 'and',
): string {
  if (words.length > most) {
    return `${words.slice(0, most).join(', ')} ${joint} ${words.length - most} more`;
  }
  const last = words.at(-1) ?? 'none';
  return words.length < 2 ? last : `${words.slice(0, -1).join(', ')} ${joint} ${last}`;
}
