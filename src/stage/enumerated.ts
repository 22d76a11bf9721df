/** `a, b and c`; at most `most` of them. */
export function enumerated(words: readonly string[], most = 8): string {
  if (words.length > most) {
    return `${words.slice(0, most).join(', ')} and ${words.length - most} more`;
  }
  const last = words.at(-1) ?? 'none';
  return words.length < 2 ? last : `${words.slice(0, -1).join(', ')} and ${last}`;
}
