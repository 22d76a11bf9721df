import { hazardRow } from '../safety/hazard.js';
import { mappingTitles } from '../show/model/mapping-words.js';
import type { Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { type Check, fail, pass, warn } from './check.js';
import type { LossProof, ProvedLoss } from './loss-proof.js';

/** Times of the show are kept to within so much: a few ticks, and the reports in between. */
const LATE_S = 0.25;

/** What can be said from the show file alone. */
export function checkShow(show: Show, file: string): Check {
  return pass(
    'show',
    show.name,
    `${file} is valid: ${show.performers.length} performers, ${show.zones.length} zones, ${show.fixtures.length} fixtures, ${mappingTitles(show).length} mappings${cuesInWords(show)}.`,
  );
}

/** In which cue it stands for this check, and at a first start. */
function cuesInWords({ cues }: Show): string {
  const [first] = cues;
  if (first === undefined) return '';
  const count = cues.length === 1 ? '1 cue' : `${cues.length} cues`;
  return `, ${count}; it starts in the first, ${first.label}, unless another one was on last`;
}

/** Fixtures that hang and are sent nothing. */
export function checkPatched({ unpatched }: Show): Check[] {
  if (unpatched.length === 0) return [];
  return [
    warn(
      'fixtures',
      'patch',
      `${enumerated(unpatched.map(({ label }) => label))} ${unpatched.length === 1 ? 'is' : 'are'} unpatched: nothing is sent there.`,
      'Give each a universe and an address and remove `unpatched`, or remove the fixture from the show.',
    ),
  ];
}

/** Fixtures that aim by a pose that nobody has measured. */
export function checkFixtures(show: Show): Check[] {
  const heads = show.fixtures.filter(one => one.head !== undefined);
  if (heads.length === 0) {
    return [pass('fixtures', 'calibration', 'no fixture aims, so none needs a calibration.')];
  }
  const never = heads.filter(one => one.calibrated === undefined);
  const days = [...new Set(heads.flatMap(one => one.calibrated ?? []))].sort();
  if (never.length === 0) {
    const when = days.length === 1 ? `on ${days[0]}` : `between ${days[0]} and ${days.at(-1)}`;
    return [
      pass('fixtures', 'calibration', `all ${heads.length} that aim were calibrated ${when}.`),
    ];
  }
  return [
    warn(
      'fixtures',
      'calibration',
      `${enumerated(never.map(one => one.label))} ${never.length === 1 ? 'aims' : 'aim'} by a position and orientation that nobody has measured.`,
      '`lampwright calibrate fixture` measures it where it hangs now; write the day as `calibrated: 2026-11-20`.',
    ),
  ];
}

/** Hazards and their enables. */
export function checkHazards(show: Show, proofs: readonly LossProof[]): Check[] {
  const leaks = proofs.flatMap(one => one.leaks);
  const found = show.fixtures.flatMap(fixture => {
    const classes = [...new Set(fixture.hazards)].filter(one => one !== 'ordinary');
    return classes.map(hazard => ({ fixture, row: hazardRow(hazard) }));
  });
  if (found.length === 0) {
    return [pass('hazards', 'hazards', 'the show drives no atmospheric effect, strobe or laser.')];
  }
  return found.map(({ fixture, row }) => {
    const name = `${fixture.label} (${row.hazard})`;
    if (leaks.includes(fixture.name)) {
      return fail(
        'hazards',
        name,
        'left its safe values in the simulation although nobody held its enable.',
        'Do not use it. Report this bug, with the show file.',
      );
    }
    if (show.operator === undefined) {
      return warn(
        'hazards',
        name,
        'can never be enabled: the show has no `operator`. It stays at its safe values.',
        `Give the show an \`operator\`, or take the fixture out. Ask ${row.deferTo}.`,
      );
    }
    return pass(
      'hazards',
      name,
      `stays at its safe values until its enable is held, and drops ${row.drop}; in the simulation nobody held it, and it stayed. Before use: ${row.deferTo}.`,
    );
  });
}

/** What the simulated losses have shown. @param proofs of each cue in which they were simulated */
export function checkWatchdog(show: Show, proofs: readonly LossProof[]): Check[] {
  const { trackerSilent, feedSilent } = show.watchdog;
  const inCues = (of: (proof: LossProof) => ProvedLoss | undefined): LossInCue[] =>
    proofs.flatMap(proof => {
      const loss = of(proof);
      return loss === undefined ? [] : [{ cue: proof.cue, ...loss }];
    });
  const checks = show.performers.flatMap(({ label }) => {
    const losses = inCues(proof => proof.losses.find(one => one.performer === label));
    return losses.length === 0 ? [] : [judge(losses, trackerSilent.afterS, show.cues.length)];
  });
  checks.push(
    judge(
      inCues(({ feed }) => feed),
      feedSilent.afterS,
      show.cues.length,
    ),
  );
  const never = new Set(proofs.flatMap(one => one.neverLive));
  if (never.size > 0) {
    checks.push(
      fail(
        'watchdog',
        'going live',
        `${enumerated([...never])} did not go live in the simulation${whereIn(proofs.filter(one => one.neverLive.length > 0))}, although nothing was wrong.`,
        'Compare `stage` with the zones and with where trackers are worn, and look at `watchdog`; for them the watchdog is not proved.',
      ),
    );
  }
  if (proofs.length < show.cues.length) {
    checks.push(
      pass(
        'watchdog',
        'cues',
        `simulated in ${proofs.length} of ${show.cues.length} cues${whereIn(proofs)}: each mapping and each safe look of the show is in one of them.`,
      ),
    );
  }
  return checks;
}

/** Some of one performer, or of everybody, simulated in a cue. */
type LossInCue = ProvedLoss & Pick<LossProof, 'cue'>;

/** " (Act I and Act II)"; nothing in a show without cues. */
function whereIn(of: readonly Pick<LossProof, 'cue'>[]): string {
  const cues = of.flatMap(({ cue }) => cue ?? []);
  return cues.length === 0 ? '' : ` (${enumerated(cues, 4)})`;
}

/** The worst of all cues, and in which it was. */
function judge(all: readonly LossInCue[], afterS: number, cues: number): Check {
  const name = `loss of ${all[0]?.performer ?? 'everybody'}`;
  const driving = all.filter(({ fixtures }) => fixtures.length > 0);
  if (driving.length === 0) {
    return pass(
      'watchdog',
      name,
      'drives no fixture alone; the loss of everybody was simulated too.',
    );
  }
  const seconds = (value: number | undefined) =>
    value === undefined ? 'never' : `${value.toFixed(2)} s`;
  const act =
    'Look at `watchdog`, and at `fade` of the fixtures; `lampwright safety` explains them.';
  const fixturesOf = (some: readonly LossInCue[]) =>
    enumerated([...new Set(some.flatMap(({ fixtures }) => fixtures))]);
  const lit = driving.filter(({ wasLit }) => wasLit);
  const never = lit.filter(
    one => one.decidedS === undefined || one.tookS === undefined || one.restedS === undefined,
  );
  const [worst] = never;
  if (worst !== undefined) {
    const { decidedS, tookS, restedS } = worst;
    return fail(
      'watchdog',
      name,
      `${fixturesOf([worst])}${whereIn(never)}: loss detected ${seconds(decidedS)}, no longer on them ${seconds(tookS)}, all at the safe look ${seconds(restedS)} after the last report.`,
      act,
    );
  }
  const over = ({ decidedS = 0, tookS = 0, declaredS }: LossInCue) =>
    Math.max(decidedS - afterS, tookS - declaredS);
  const slowest = lit.toSorted((a, b) => over(b) - over(a))[0];
  if (slowest === undefined) {
    return warn(
      'watchdog',
      name,
      `${fixturesOf(driving)} already showed the safe look${whereIn(driving)}, so that a loss changes nothing.`,
      'That is right if you meant it; otherwise check the mappings and the safe look.',
    );
  }
  const { decidedS, tookS, restedS, declaredS } = slowest;
  const several =
    lit.length === cues ? ` in each of the ${cues} cues` : ` in ${lit.length} cues${whereIn(lit)}`;
  const where = lit.length > 1 ? several : whereIn(lit);
  const which = lit.length > 1 ? `; slowest in ${slowest.cue}` : '';
  const found = `simulated${where}: ${fixturesOf(lit)}${which}; loss detected after ${seconds(decidedS)}, no longer on them after ${seconds(tookS)} (declared ${declaredS.toFixed(2)} s), all at the safe look after ${seconds(restedS)}.`;
  return over(slowest) > LATE_S
    ? fail('watchdog', name, found, act)
    : pass('watchdog', name, found);
}
