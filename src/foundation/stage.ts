import { channel } from 'node:diagnostics_channel';

/** Parts of a plan whose time and memory `pavm plan --timings` shows, in the order of the work. */
export const STAGES = [
  'read',
  'weld',
  'topology',
  'centreline',
  'sections',
  'distances',
  'scan',
  'print',
  'physiology',
  'figures',
  'page',
  'write',
] as const;

export type Stage = (typeof STAGES)[number];

/** The message at the start of a stage, its name, and at its end, undefined. */
export type StageMessage = Stage | undefined;

/** The channel on which the start and the end of a stage are published. Only `--timings` listens, and no computed value depends on it. */
export const stageChannel = channel('pavm:stage');

/**
 * Does `work` as part of a stage; stages may be nested. No clock is read here; the listener on the channel reads one. The stage of
 * asynchronous work ends when its promise settles.
 */
export function inStage<T>(stage: Stage, work: () => T): T {
  if (!stageChannel.hasSubscribers) return work();
  stageChannel.publish(stage);
  const end = (): void => stageChannel.publish(undefined);
  let answer: T;
  try {
    answer = work();
  } catch (error) {
    end();
    throw error;
  }
  if (answer instanceof Promise) return answer.finally(end) as T;
  end();
  return answer;
}
