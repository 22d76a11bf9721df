/** Packages that stay outside of the bundles, and ship beside them: they load files of their own by name. */
export const APART = ['pino', 'pino-pretty'];
