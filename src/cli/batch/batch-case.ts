import type { StandingPlan } from './standing-case.js';

/** One case to compute. */
export interface BatchCase {
  name: string;
  /** As typed. */
  path: string;
  /** The existing plan, if its case did not have to be parsed. */
  standing?: StandingPlan;
  /** Absolute paths of everything it reads. */
  inputs: string[];
  planFolder: string;
  /** The case as named by the user, for messages. */
  planTyped: string;
  /** Relative to the folder of the summary, with forward slashes. */
  planShown: string;
  /** Bytes of its meshes and images. */
  bytes: number;
}

/** What a run needs to know about a case before computing it. */
export interface Listed {
  id: string;
  typed: string;
  folder: string;
  inputs: string[];
  bytes: number;
}
