#!/usr/bin/env node
import { main } from './commands/cli.js';

const code = await main(process.argv.slice(2));
// A pipe takes 64 KiB at once; what is still to be written would be lost.
process.stdout.write('', () => process.exit(code));
