import { parentPort, workerData } from 'node:worker_threads';
import { loadShow } from './show-file.js';

// Reads a show beside the light: to parse a large one takes longer than the time between two packets.
parentPort?.postMessage(loadShow((workerData as { file: string }).file));
