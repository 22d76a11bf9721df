import type { Finding, Path } from '../problems/problem.js';
import { type SignalFigures, signalFigures, UNIT_WORDS } from '../resolve/signal-figures.js';
import type { ShowFile } from '../schema/schema.js';
import type { ConditionPartFile } from '../schema/signals.js';
import { NameCheck } from './names.js';
import { checkPresence } from './signals.js';

/** Names and thresholds of the conditions, including those written out where they are used. */
export function checkConditions(show: ShowFile): Finding[] {
  const check: Check = { names: new NameCheck(show), figures: signalFigures(show), findings: [] };
  for (const [name, condition] of Object.entries(show.conditions)) {
    checkPart(check, condition, ['conditions', name]);
  }
  show.mappings.forEach((mapping, index) => {
    const when = 'when' in mapping ? mapping.when : undefined;
    if (when !== undefined) checkPart(check, when, ['mappings', index, 'when']);
  });
  return [...check.names.findings, ...check.findings];
}

interface Check {
  readonly names: NameCheck;
  readonly figures: ReadonlyMap<string, SignalFigures>;
  readonly findings: Finding[];
}

function checkPart(check: Check, part: ConditionPartFile, path: Path): void {
  const { names, findings } = check;
  if (typeof part === 'string') names.one('conditions', part, path);
  else if ('not' in part) checkPart(check, part.not, [...path, 'not']);
  else if ('in' in part) {
    findings.push(...checkPresence(names, part.in, part.of, part.every, path, 'in'));
  } else if ('signal' in part) {
    if (names.one('signals', part.signal, [...path, 'signal'])) checkThreshold(check, part, path);
  } else {
    const key = 'all' in part ? 'all' : 'any';
    const parts: readonly ConditionPartFile[] = 'all' in part ? part.all : part.any;
    parts.forEach((one, i) => {
      checkPart(check, one, [...path, key, i]);
    });
  }
}

type Threshold = Extract<ConditionPartFile, { signal: string }>;

function checkThreshold({ figures, findings }: Check, part: Threshold, path: Path): void {
  const { signal, on, below, off } = part;
  const known = figures.get(signal);
  if (known === undefined) return;
  if (known.byFixture || known.byPlace) {
    findings.push({
      code: 'signal-by-fixture',
      message: `signal "${signal}" differs from fixture to fixture (${known.byFixture ? '`each`' : '`spread`'}), and a condition is the same for all.`,
      path: [...path, 'signal'],
    });
  }
  const said = on ?? below;
  if (said === undefined || (on !== undefined && below !== undefined)) {
    findings.push({
      code: said === undefined ? 'missing-key' : 'bad-value',
      message:
        said === undefined
          ? `the condition does not say when signal "${signal}" means yes: give \`on\` (yes from there upwards) or \`below\` (yes from there downwards).`
          : 'it has both on and below: `on` is yes upwards, `below` is yes downwards. Keep one of the two.',
      path: said === undefined ? path : [...path, 'below'],
      atKey: true,
    });
    return;
  }
  const upwards = on !== undefined;
  if (off !== undefined && (upwards ? off > said : off < said)) {
    findings.push({
      code: 'threshold-order',
      message: `off is ${off}, ${upwards ? 'above on' : 'under below'}, which is ${said}: it would be yes and no at once. Make \`off\` ${said} or ${upwards ? 'less' : 'more'}.`,
      path: [...path, 'off'],
    });
  }
  checkReach(findings, known, part, path);
}

/** A threshold outside the range of the signal: the condition would never change. */
function checkReach(
  findings: Finding[],
  { least, greatest, unit }: SignalFigures,
  { signal, on, below, off }: Threshold,
  path: Path,
): void {
  const upwards = on !== undefined;
  const said = on ?? below ?? 0;
  const until = off ?? said;
  const goes = `signal "${signal}" goes ${reach(least, greatest, unit === 'share' ? '' : ` ${UNIT_WORDS[unit]}`)}`;
  if (upwards ? said > greatest : said < least) {
    findings.push({
      code: 'threshold-unreachable',
      message: `${goes}, so this can never be yes.`,
      path: [...path, upwards ? 'on' : 'below'],
    });
    return;
  }
  const alwaysYes = upwards ? said <= least : said >= greatest;
  const neverNo = upwards ? until < least : until > greatest;
  if (!alwaysYes && !neverNo) return;
  findings.push({
    code: 'threshold-unreachable',
    message: `${goes}, so this can never be no${alwaysYes ? '' : ' again once it is yes'}.`,
    path: [...path, alwaysYes || off === undefined ? (upwards ? 'on' : 'below') : 'off'],
  });
}

/** @param unit with a space before it */
function reach(least: number, greatest: number, unit: string): string {
  const number = (value: number) => String(Number(value.toPrecision(4)));
  if (!Number.isFinite(greatest)) return `from ${number(least)}${unit} up`;
  return `from ${number(least)} to ${number(greatest)}${unit}`;
}
