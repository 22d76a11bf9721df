import type { OperatorAction } from '../../engine/values/operator-action.js';
import { sentElsewhereInWords } from '../../live/elsewhere-words.js';
import { fixtureNames } from '../../show/model/fixture-groups.js';
import { labelsOf } from '../../show/model/labels.js';
import { litElsewhere, sentElsewhere } from '../../show/model/lit-elsewhere.js';
import type { Show } from '../../show/model/model.js';

/** What an order does not reach, because other machines that share the show send it. */
export interface LeftElsewhere {
  /** Names of these outputs. */
  readonly outputs: readonly string[];
  /** 'The light of Ines on output "upstage" is sent by another machine: stop Ines there too.' */
  readonly text: string;
}

/** undefined: the order reaches all of it. */
export function leftElsewhere(show: Show, action: OperatorAction): LeftElsewhere | undefined {
  const outputs = reachedElsewhere(show, action);
  if (outputs.length === 0) return undefined;
  const who =
    'performer' in action && action.performer !== undefined
      ? labelsOf(show).performer(action.performer)
      : undefined;
  const { whose, also } = wordsOf(action, who, outputs.length === 1 ? 'that one' : 'those');
  return { outputs, text: `${sentElsewhereInWords(outputs, whose)}: ${also} too.` };
}

function reachedElsewhere(show: Show, action: OperatorAction): readonly string[] {
  switch (action.kind) {
    case 'stop':
    case 'resume':
    case 'off':
    case 'on': {
      const index = show.performers.findIndex(({ name }) => name === action.performer);
      return litElsewhere(show, action.performer === undefined ? undefined : index);
    }
    case 'highlight': {
      const shown = fixtureNames(show).find(({ name }) => name === action.fixture);
      const universes = (shown?.fixtures ?? []).map(index => show.fixtures[index]?.universe ?? -1);
      return sentElsewhere(show, new Set(universes));
    }
    default:
      return (show.share?.others ?? []).map(({ name }) => name);
  }
}

/**
 * @param who undefined: everybody
 * @param them the machines that send the rest
 */
function wordsOf(
  action: OperatorAction,
  who: string | undefined,
  them: string,
): { readonly whose?: string; readonly also: string } {
  const whose = who === undefined ? 'Light' : `The light of ${who}`;
  switch (action.kind) {
    case 'stop':
    case 'resume':
      return { whose, also: `${action.kind} ${who ?? 'everybody'} there` };
    case 'off':
    case 'on':
      return { whose, also: `tell ${them}` };
    default:
      return { also: `tell ${them}` };
  }
}
