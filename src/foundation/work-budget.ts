/** Thrown if a stage has used up its allowed work. */
export class WorkSpent extends Error {
  /** The current activity, as the end of "while ...". */
  readonly doing: string;

  constructor(doing: string) {
    super(`the work allowed was used up while ${doing}`);
    this.name = 'WorkSpent';
    this.doing = doing;
  }
}

/**
 * Limits a stage by counted work, never by the clock: an input is finished or abandoned in the same way on every machine. One step is about
 * a microsecond on a current core; the cost of an operation is estimated before it is done, from sizes only.
 */
export class WorkBudget {
  /** The current activity, for the message. */
  doing = 'beginning';
  private spent = 0;
  private readonly most: number;

  constructor(most: number) {
    this.most = most;
  }

  /** Counts work before it is done. Throws `WorkSpent` if it would exceed the limit. */
  spend(steps: number): void {
    this.spent += steps;
    if (this.spent > this.most) throw new WorkSpent(this.doing);
  }
}
