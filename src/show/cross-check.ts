import { checkActions, checkReceivers } from './checks/actions.js';
import { checkAnchors } from './checks/anchors.js';
import { checkConditions } from './checks/conditions.js';
import { checkCues } from './checks/cues.js';
import { checkDesk } from './checks/desk.js';
import { checkFixtures } from './checks/fixtures.js';
import { checkGroups } from './checks/groups.js';
import { checkHazards } from './checks/hazards.js';
import { checkInputs } from './checks/inputs.js';
import { checkKeepOuts } from './checks/keep-out.js';
import { checkMappings, checkMasters } from './checks/mappings.js';
import { checkOutputs } from './checks/outputs.js';
import { checkPalettes } from './checks/palettes.js';
import { checkPositions } from './checks/positions.js';
import { checkSignals } from './checks/signals.js';
import { checkStage } from './checks/stage.js';
import { checkTargets } from './checks/targets.js';
import type { Finding } from './problems/problem.js';
import { apartCells, atOrigins } from './resolve/cells.js';
import type { ShowFile } from './schema/schema.js';

/** Everything that a schema can't see: names, patch, geometry. All findings at once. */
export function crossCheck(file: ShowFile): Finding[] {
  const cells = apartCells(file);
  const found = checksOf(cells.show);
  return [...cells.findings, ...atOrigins(found, cells)];
}

function checksOf(show: ShowFile): Finding[] {
  return [
    ...checkStage(show),
    ...checkAnchors(show),
    ...checkInputs(show),
    ...checkPalettes(show),
    ...checkTargets(show),
    ...checkFixtures(show),
    ...checkKeepOuts(show),
    ...checkHazards(show),
    ...checkGroups(show),
    ...checkSignals(show),
    ...checkConditions(show),
    ...checkMappings(show),
    ...checkMasters(show),
    ...checkCues(show),
    ...checkActions(show),
    ...checkReceivers(show),
    ...checkPositions(show),
    ...checkOutputs(show),
    ...checkDesk(show),
  ];
}
