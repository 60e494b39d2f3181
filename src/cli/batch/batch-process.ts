/** The program of each worker process of a batch: it handles one task after another and exits with its parent. */
import workerpool from 'workerpool';
import { computeCase } from './batch-worker.js';

// Ctrl-C reaches the whole process group; the parent decides what happens to the workers
process.on('SIGINT', () => undefined);
workerpool.worker({ computeCase, ready: () => true });
