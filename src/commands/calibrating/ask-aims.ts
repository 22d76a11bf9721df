import type { AimRow } from '../../calibration/aims.js';
import { vec3 } from '../../stage/vector.js';
import { Answers } from '../terminal/answers.js';
import { complain } from '../terminal/terminal.js';

/**
 * Asks for aims on the terminal, one per line, until an empty line or the end of the input.
 * @param judge says in one line how good the samples so far are
 */
export async function askForAims(
  fixture: string,
  judge: (rows: readonly AimRow[]) => string,
): Promise<AimRow[]> {
  complain(`Aim ${fixture} at a point you have measured, and type: x y z pan tilt`);
  complain('(metres and degrees; "undo" removes the last one; an empty line ends)');
  const answers = new Answers();
  const rows: AimRow[] = [];
  try {
    for (;;) {
      const line = (await answers.next())?.trim();
      if (line === undefined || line === '') return rows;
      if (line === 'undo') {
        const gone = rows.pop();
        complain(gone === undefined ? '  There is nothing to undo.' : `  ${judge(rows)}`);
        continue;
      }
      const numbers = line.split(/[\s,]+/).map(Number);
      const [x, y, z, pan, tilt] = numbers as [number, number, number, number, number];
      if (numbers.length !== 5 || !numbers.every(Number.isFinite)) {
        complain(`  "${line}" is not five numbers: x y z pan tilt.`);
        continue;
      }
      rows.push({
        line: rows.length + 1,
        fixture: undefined,
        point: vec3(x, y, z),
        pan: { kind: 'degrees', value: pan },
        tilt: { kind: 'degrees', value: tilt },
      });
      complain(`  ${judge(rows)}`);
    }
  } finally {
    answers.close();
  }
}
