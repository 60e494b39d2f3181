/** Thrown where a stage has done all the work that it may. */
export class WorkSpent extends Error {
  /** What was being done, as the end of "while ...". */
  readonly doing: string;

  constructor(doing: string) {
    super(`the work allowed was used up while ${doing}`);
    this.name = 'WorkSpent';
    this.doing = doing;
  }
}

/**
 * Bounds a stage by counted work, never by the clock: the same input is finished or given up on every machine. One step is
 * about a microsecond of one core of today; what a thing costs is estimated before it is done, from sizes alone.
 */
export class WorkBudget {
  /** What is being done, for the message. */
  doing = 'beginning';
  private spent = 0;
  private readonly most: number;

  constructor(most: number) {
    this.most = most;
  }

  /** Counts work before it is done. Throws `WorkSpent` where it would go past the limit. */
  spend(steps: number): void {
    this.spent += steps;
    if (this.spent > this.most) throw new WorkSpent(this.doing);
  }
}
