/** What runs in each worker process of a batch: it answers tasks one after another and goes when its parent goes. */
import workerpool from 'workerpool';
import { computeCase } from './batch-worker.js';

// Ctrl-C reaches the whole group: the parent decides what becomes of the workers
process.on('SIGINT', () => undefined);
workerpool.worker({ computeCase });
