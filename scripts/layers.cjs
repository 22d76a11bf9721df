/** Folders of src/ from the bottom up. Each may import those of the rows above its own, and itself. */
module.exports = [
  ['stage'],
  ['drawing'],
  ['tracking', 'mapping', 'fixtures', 'safety', 'protocols', 'planning', 'colour'],
  ['signals'],
  ['show'],
  ['engine', 'editing'],
  ['recording', 'live'],
  ['rehearsal', 'calibration', 'interchange'],
  ['reporting', 'sheets', 'reference'],
  ['readiness'],
  ['daemon', 'panel'],
  ['commands'],
];
