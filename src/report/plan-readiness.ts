/** Readiness, triggers for changing plans and follow-up of plan.md. */
import type { Result } from '../result/result.generated.js';
import type { Citations } from './citations.js';
import { bullets, clause, markdownText, section, sentence } from './markdown.js';
import { FIRST_REASONS } from './plan-summary.js';
import { counted, deviceKind, entryOf, KINDS, trimmed } from './words.js';

/** Details for the first page: further reasons, today's best devices if they differ, what to order, the rule that decided. */
export function readinessSection(result: Result, cite: Citations): string {
  const { order_list: orders, because, decided_by: decided } = result.readiness;
  const list = orders?.length
    ? `To order:\n\n${bullets(
        orders.map((order) => {
          const by = order.ready_by ? `by ${markdownText(order.ready_by)}` : 'lead time not known';
          const for_ = order.for?.length ? ` for ${order.for.map(markdownText).join(', ')}` : '';
          return `${markdownText(order.item)}, ${counted(order.count, 'piece')}${for_}, ${by}`;
        }),
      )}`
    : 'Nothing to order.';
  const further = because.slice(FIRST_REASONS).map((text) => cite.sentence(text));
  const rule = decided === undefined ? '' : ` Advice from rule ${markdownText(decided)}.`;
  return section(2, 'Readiness', [
    further.length > 0 ? `Further reasons for the advice:\n\n${bullets(further)}` : undefined,
    todayBest(result),
    orders?.length ? `${list}` : undefined,
    `${orders?.length ? '' : list}${rule}`.trim() || undefined,
  ]);
}

/** What could be closed today with the devices in stock. */
function todayBest(result: Result): string | undefined {
  const best = result.readiness.best_today ?? [];
  // The same devices as in the summary are not repeated.
  const isPlanned = best.every(({ feeder, code }) => entryOf(result.devices, feeder)?.code === code);
  if (best.length === 0 || isPlanned) return undefined;
  const lines = best.map(
    (one) =>
      `**${markdownText(one.feeder)}**: ${deviceKind(one.kind)}, ${trimmed(one.diameter_mm)} mm diameter ${KINDS.stated.mark}, code ${markdownText(one.code)}, ${counted(one.count, 'piece')}.`,
  );
  return `The best that the shelf allows today:\n\n${bullets(lines)}`;
}

const DIRECTION = {
  'stop-and-discuss': 'Stop and discuss',
  'a-to-b': 'From plan A to plan B',
  'b-to-a': 'From plan B to plan A',
} as const;

/** Triggers for leaving a plan; those that this patient's data already meet come first, with the reason. */
export function triggerSection(result: Result, cite: Citations): string {
  const triggers = result.readiness.triggers ?? [];
  if (triggers.length === 0) {
    return section(2, 'Triggers for changing plans', [
      'The result lists no trigger; agree in the team beforehand when to change plans.',
    ]);
  }
  const met = triggers.filter((trigger) => trigger.applies);
  const groups = (Object.keys(DIRECTION) as (keyof typeof DIRECTION)[]).flatMap((direction) => {
    const own = triggers.filter((trigger) => trigger.direction === direction);
    if (own.length === 0) return [];
    const lines = [...own.filter((one) => one.applies), ...own.filter((one) => !one.applies)].map((one) => {
      const why = one.because ? `: ${clause(one.because)}` : '';
      return `${one.applies ? `**Met now${why}** ` : ''}${sentence(one.text)} ${cite.mark(one.source)}`;
    });
    return [section(3, DIRECTION[direction], [bullets(lines)])];
  });
  return section(2, 'Triggers for changing plans', [
    met.length > 0 ? `**Met now: ${met.length} of ${triggers.length}.**` : 'This case meets none of these.',
    ...groups,
  ]);
}

/** The checks after the procedure, and when they are due. */
export function followUpSection(result: Result, cite: Citations): string {
  const items = result.readiness.follow_up ?? [];
  if (items.length === 0) {
    return section(2, 'Follow-up', ['The result lists no follow-up; use the local protocol.']);
  }
  const hasDates = items.some(({ from, to }) => from !== undefined || to !== undefined);
  const when = (from?: string, to?: string): string | undefined => {
    if (from && to) return from === to ? markdownText(from) : `${markdownText(from)} to ${markdownText(to)}`;
    if (from) return `from ${markdownText(from)}`;
    if (to) return `until ${markdownText(to)}`;
    return undefined;
  };
  return section(2, 'Follow-up', [
    hasDates ? undefined : 'No dates: the day of the procedure is not set.',
    bullets(
      items.map((item) => {
        const date = when(item.from, item.to);
        return `${date === undefined ? '' : `**${date}**: `}${sentence(item.what)} ${cite.mark(item.source)}`;
      }),
    ),
  ]);
}
