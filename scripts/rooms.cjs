/**
 * Rooms of the largest folders of src/, from the bottom up; '.' is the files of the folder itself. Each room may import
 * those of the rows above its own, and itself.
 */
module.exports = {
  show: [
    ['problems'],
    ['reading', 'schema'],
    ['palettes'],
    ['model'],
    ['resolve', 'warnings'],
    ['checks'],
    ['.'],
  ],
  engine: [
    ['values'],
    ['reports'],
    ['events'],
    ['people'],
    ['cues'],
    ['light'],
    ['heads'],
    ['operator'],
    ['.'],
    ['take-over'],
  ],
  daemon: [
    ['files', 'levels', 'log', 'machine', 'service'],
    ['asking', 'lighting', 'pipe', 'recorder'],
    ['desk', 'engine', 'live', 'ownership', 'senders'],
    ['listening', 'memory', 'panel'],
    ['beats'],
    ['status'],
    ['.'],
    ['operator', 'words'],
  ],
  rehearsal: [['sensors'], ['assessing'], ['charts', 'scenes', 'tuning'], ['.']],
  commands: [
    ['terminal'],
    ['files'],
    ['calibrating', 'checking'],
    ['running'],
    ['afterwards', 'setting-up'],
    ['.'],
  ],
  reporting: [['causes'], ['measures'], ['words'], ['.'], ['pages']],
};
