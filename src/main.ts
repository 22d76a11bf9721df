#!/usr/bin/env node
import { main } from './commands/cli.js';

process.exit(await main(process.argv.slice(2)));
