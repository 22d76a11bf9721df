/** The layers of docs/concepts/architecture.md, held in CI. */
const ranks = require('./scripts/layers.cjs');
const rooms = require('./scripts/rooms.cjs');

const rank = new Map(ranks.flatMap((names, index) => names.map(name => [name, index])));
const folders = [...rank.keys()];
const pure = folders.filter(name => !['daemon', 'panel', 'commands'].includes(name));

/** What of the engine is for others: running it, what goes in, and what it shows. */
const enginePublic = [
  'engine',
  'take-over/take-over',
  'take-over/pairs',
  'step',
  'values/inputs',
  'values/operator-action',
  'values/enable-reasons',
  'values/counters',
  'events/events',
  'events/drop-words',
  'events/event-words',
  'view',
  'snapshot',
  'positions-out',
  'encode-positions',
];

/** A folder may import itself and lower ranks. */
const forbiddenTargets = from =>
  folders.filter(
    to => to !== from && rank.get(to) >= rank.get(from) && !(from === 'daemon' && to === 'panel'),
  );

/** Files of these rooms of a folder, as a pattern. */
const filesOf = (folder, names) => {
  if (names.length === 0) return '(?!)';
  const inside = names.map(name => (name === '.' ? '[^/]+$' : `${name}/`));
  return `^src/${folder}/(${inside.join('|')})`;
};

/** A room may import itself and lower rows; every file of the folder is in a room that is listed. */
const roomRules = Object.entries(rooms).flatMap(([folder, rows]) => [
  ...rows.flatMap((row, index) =>
    row.map(room => ({
      name: `${folder}-${room === '.' ? 'itself' : room}`,
      comment: `of src/${folder}, ${room} may only import the rooms above it in scripts/rooms.cjs`,
      severity: 'error',
      from: { path: filesOf(folder, [room]) },
      to: {
        path: filesOf(
          folder,
          rows
            .slice(index)
            .flat()
            .filter(name => name !== room),
        ),
      },
    })),
  ),
  {
    name: `${folder}-unlisted`,
    comment: `a room of src/${folder} that is not in scripts/rooms.cjs`,
    severity: 'error',
    from: {},
    to: { path: `^src/${folder}/`, pathNot: filesOf(folder, rows.flat()) },
  },
]);

module.exports = {
  forbidden: [
    ...folders.map(from => ({
      name: `layer-${from}`,
      comment: `src/${from} may only import lower layers`,
      severity: 'error',
      from: { path: `^src/${from}/` },
      to: { path: `^src/(${[...forbiddenTargets(from), 'main'].join('|')})(/|\\.)` },
    })),
    {
      name: 'pure-core',
      comment:
        'sockets, timers, files and processes live in src/daemon, src/panel and src/commands',
      severity: 'error',
      from: { path: `^src/(${pure.join('|')})/` },
      to: {
        dependencyTypes: ['core'],
        // node:module only lets protocols/osc load a CommonJS codec; node:crypto and node:zlib only hash.
        pathNot: '^(node:)?(module|crypto|zlib)$',
      },
    },
    {
      name: 'no-circular',
      comment: 'a circle, types included, hides which of the two is the lower layer',
      severity: 'error',
      from: {},
      to: { circular: true },
    },
    ...roomRules,
    {
      name: 'engine-stage',
      comment: 'a stage knows its own state and that of the stages before it: never the whole',
      severity: 'error',
      from: {
        path: '^src/engine/',
        pathNot: '^src/engine/((engine|step|view|snapshot|positions-out)\\.ts$|take-over/)',
      },
      to: { path: '^src/engine/(engine|step|view|snapshot)\\.ts$' },
    },
    {
      name: 'engine-inside',
      comment:
        'who looks at the engine reads its view; docs/decisions/0023-engine-as-a-pipeline.md',
      severity: 'error',
      from: { path: '^src/', pathNot: '^src/engine/' },
      to: { path: '^src/engine/', pathNot: `^src/engine/(${enginePublic.join('|')})\\.ts$` },
    },
    {
      name: 'not-to-dev-dep',
      severity: 'error',
      from: { path: '^src/' },
      to: { dependencyTypes: ['npm-dev'] },
    },
    {
      name: 'resolvable',
      severity: 'error',
      from: {},
      to: { couldNotResolve: true },
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    tsConfig: { fileName: 'tsconfig.json' },
    tsPreCompilationDeps: true,
    enhancedResolveOptions: {
      exportsFields: ['exports'],
      conditionNames: ['import', 'require', 'node', 'default'],
    },
  },
};
