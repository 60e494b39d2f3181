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

/** Where the start and the end of a stage are published. Nobody listens but `--timings`, and nothing that is computed depends on it. */
export const stageChannel = channel('pavm:stage');

/**
 * Does `work` as part of a stage; stages may lie within each other. Here no clock is read: who listens on the channel does.
 * Work that answers later ends its stage then.
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
