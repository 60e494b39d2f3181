import type { StandingPlan } from './standing-case.js';

/** One case that is to be computed. */
export interface BatchCase {
  name: string;
  /** As typed. */
  path: string;
  /** The plan that stands, where its case did not have to be parsed. */
  standing?: StandingPlan;
  /** Absolute paths of everything that it reads. */
  inputs: string[];
  planFolder: string;
  /** The same for messages, as the user named it. */
  planTyped: string;
  /** From the folder of the summary, with forward slashes. */
  planShown: string;
  /** Bytes of its meshes and images. */
  bytes: number;
}

/** What a run has to know of a case before it computes it. */
export interface Listed {
  id: string;
  typed: string;
  folder: string;
  inputs: string[];
  bytes: number;
}
