import type { PageData, StepScene } from '../page-types.js';
import { allWith, press, say } from './dom.js';

type Choice = 'none' | 'a' | 'b';

/** Goes through the steps of a plan: shows the text of one step at a time, and the picture follows. */
export class FollowPlan {
  private plan: Choice = 'none';
  private at = 0;
  private readonly plans: PageData['plans'];
  private readonly show: (step: StepScene | undefined, plan: Choice) => void;

  constructor(plans: PageData['plans'], show: (step: StepScene | undefined, plan: Choice) => void) {
    this.plans = plans;
    this.show = show;
    document.body.classList.add('stepping');
    for (const [button, plan] of allWith('choose'))
      button.addEventListener('click', () => this.choose(plan as Choice));
    for (const [button, way] of allWith('go')) button.addEventListener('click', () => this.go(Number(way)));
    this.choose('none');
  }

  choose(plan: Choice): void {
    this.plan = plan;
    this.at = 0;
    const buttons = allWith('choose');
    press(
      buttons.map(([button]) => button),
      buttons.find(([, own]) => own === plan)?.[0],
    );
    this.update();
  }

  /** One step forward or back; stops at the ends. */
  go(way: number): void {
    const steps = this.plan === 'none' ? [] : this.plans[this.plan];
    const to = Math.max(0, Math.min(steps.length - 1, this.at + way));
    if (steps.length === 0 || to === this.at) return;
    this.at = to;
    this.update();
  }

  private update(): void {
    const steps = this.plan === 'none' ? [] : this.plans[this.plan];
    for (const [section, plan] of allWith('plan')) {
      section.classList.toggle('now', plan === this.plan);
      for (const item of section.querySelectorAll<HTMLElement>('[data-step]'))
        item.classList.toggle('now', plan === this.plan && Number(item.dataset.step) === this.at);
    }
    for (const [button, way] of allWith<HTMLButtonElement>('go')) {
      const next = this.at + Number(way);
      const off = next < 0 || next >= steps.length;
      // Disabling the focused button would lose the keyboard focus.
      button.setAttribute('aria-disabled', String(off));
      button.disabled = steps.length === 0;
    }
    document.body.classList.toggle('following', steps.length > 0);
    const step = steps[this.at];
    if (step) say(`Step ${this.at + 1} of ${steps.length}: ${step.said}`);
    this.show(step, this.plan);
  }
}
