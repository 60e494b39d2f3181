import { type Stage, STAGES, type StageMessage, stageChannel } from '../../foundation/stage.js';

/** Everything outside the stages: program start, case file, rules, documents. */
type Row = Stage | 'start' | 'rest';

interface Spent {
  wallMs: number;
  processorMs: number;
  /** Peak memory of the process up to the end of the stage, MiB. */
  peakMib: number;
}

/**
 * Records the stages of a plan from now on. Time in a nested stage is counted once, for the inner one. Processor time covers all threads
 * of the process; memory is its peak so far.
 */
export class Timings {
  private readonly spent = new Map<Row, Spent>();
  private readonly open: Row[] = ['rest'];
  private wallMs = 0;
  private processorMs = 0;
  private readonly listen = (message: unknown): void => {
    this.lap();
    const stage = message as StageMessage;
    if (stage === undefined) this.open.pop();
    else this.open.push(stage);
  };

  constructor() {
    this.add('start');
    stageChannel.subscribe(this.listen);
  }

  /** Stops recording and returns the table as lines of text. */
  end(): string {
    this.lap();
    stageChannel.unsubscribe(this.listen);
    const rows: Row[] = ['start', ...STAGES, 'rest'];
    const seconds = (ms: number): string => (ms / 1000).toFixed(2);
    const lines = [['stage', 'time, s', 'processor, s', 'peak memory, MB']];
    for (const row of rows) {
      const spent = this.spent.get(row);
      if (spent) lines.push([row, seconds(spent.wallMs), seconds(spent.processorMs), mib(spent.peakMib)]);
    }
    lines.push(['together', seconds(this.wallMs), seconds(this.processorMs), mib(peakMib())]);
    const widths = lines[0].map((_, k) => Math.max(...lines.map((line) => line[k].length)));
    return lines
      .map((line) =>
        line.map((cell, k) => (k === 0 ? cell.padEnd(widths[k]) : cell.padStart(widths[k]))).join('  '),
      )
      .map((line) => `${line}\n`)
      .join('');
  }

  private lap(): void {
    this.add(this.open[this.open.length - 1]);
  }

  /** Adds the time since the last call, or since the process began, to a row. */
  private add(row: Row): void {
    const wallMs = performance.now();
    const { user, system } = process.cpuUsage();
    const processorMs = (user + system) / 1000;
    const before = this.spent.get(row);
    this.spent.set(row, {
      wallMs: (before?.wallMs ?? 0) + wallMs - this.wallMs,
      processorMs: (before?.processorMs ?? 0) + processorMs - this.processorMs,
      peakMib: peakMib(),
    });
    this.wallMs = wallMs;
    this.processorMs = processorMs;
  }
}

const peakMib = (): number => process.resourceUsage().maxRSS / 1024;

const mib = (value: number): string => value.toFixed(0);
