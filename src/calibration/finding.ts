/** A finding of a calibration: what is wrong or uncertain, and what to do about it. */
export interface Finding {
  /** After an error nothing is proposed. */
  readonly level: 'error' | 'warning' | 'note';
  readonly code: string;
  readonly what: string;
  readonly act: string;
}

export function hasError(findings: readonly Finding[]): boolean {
  return findings.some(finding => finding.level === 'error');
}

export function metres(value: number): string {
  return `${value.toFixed(2)} m`;
}
