import type { OperatorAction } from '../../engine/values/operator-action.js';
import { sentElsewhereInWords } from '../../live/elsewhere-words.js';
import { fixtureNames } from '../../show/model/fixture-groups.js';
import { litElsewhere, sentElsewhere } from '../../show/model/lit-elsewhere.js';
import type { Show } from '../../show/model/model.js';

/**
 * What an order does not reach, because other machines that share the show send it: 'Their light on output "upstage" is
 * sent by another machine: stop them there too.' undefined: it reaches all of it.
 */
export function leftElsewhere(show: Show, action: OperatorAction): string | undefined {
  const names = reachedElsewhere(show, action);
  if (names.length === 0) return undefined;
  const { whose, also } = wordsOf(action, names.length === 1 ? 'that one' : 'those');
  return `${sentElsewhereInWords(names, whose)}: ${also} too.`;
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

/** @param them the machines that send the rest */
function wordsOf(
  action: OperatorAction,
  them: string,
): { readonly whose?: string; readonly also: string } {
  const isAll = 'performer' in action && action.performer === undefined;
  const whose = isAll ? 'Light' : 'Their light';
  switch (action.kind) {
    case 'stop':
    case 'resume':
      return { whose, also: `${action.kind} ${isAll ? 'everybody' : 'them'} there` };
    case 'off':
    case 'on':
      return { whose, also: `tell ${them}` };
    default:
      return { also: `tell ${them}` };
  }
}
