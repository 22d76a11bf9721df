/** The layers of docs/concepts/architecture.md, held in CI. */
const ranks = require('./scripts/layers.cjs');

const rank = new Map(ranks.flatMap((names, index) => names.map(name => [name, index])));
const folders = [...rank.keys()];
const pure = folders.filter(name => !['daemon', 'panel', 'commands'].includes(name));

/** What of the engine is for others: running it, what goes in, and what it shows. */
const enginePublic = [
  'engine',
  'take-over',
  'take-over-pairs',
  'step',
  'inputs',
  'operator-action',
  'events',
  'drop-words',
  'event-words',
  'enable-reasons',
  'counters',
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
    {
      name: 'engine-stage',
      comment: 'a stage knows its own state and that of the stages before it: never the whole',
      severity: 'error',
      from: {
        path: '^src/engine/',
        pathNot:
          '^src/engine/(engine|step|view|snapshot|positions-out|take-over|take-over-cue|take-over-leaving|take-over-light|take-over-mappings|take-over-pairs|take-over-signals)\\.ts$',
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
