/** Readiness, triggers for changing plans and follow-up of plan.md. */
import type { Ready, Result } from '../result/result.generated.js';
import { todayText } from './closing.js';
import { bullets, clause, markdownText, section, sentence, table } from './markdown.js';
import { counted, deviceKind, KINDS, sourceText, trimmed } from './words.js';

/** Both plans side by side, and what to order. */
export function readinessSection(result: Result): string {
  const { plan_a, plan_b, order_list: orders } = result.readiness;
  const rows = [['Plan A: embolise', plan_a] as const, ['Plan B: resect', plan_b] as const].map(
    ([name, ready]) => readyRow(name, ready),
  );
  const list = orders?.length
    ? `Order list:\n\n${table(
        ['Item', 'Pieces', 'Ready by', 'For'],
        orders.map((order) => [
          markdownText(order.item),
          counted(order.count, 'piece'),
          order.ready_by ? markdownText(order.ready_by) : 'lead time not known',
          order.for?.length ? order.for.map(markdownText).join(', ') : 'not stated',
        ]),
      )}`
    : 'Nothing is on the order list.';
  const decided = result.readiness.decided_by;
  return section(2, 'Readiness', [
    `Today: ${todayText(result)}.`,
    table(['Plan', 'Ready today', 'Ready by', 'Missing', 'To confirm'], rows),
    todayBest(result),
    decided === undefined ? undefined : `The recommendation follows rule ${markdownText(decided)}.`,
    list,
  ]);
}

/** What could be closed today with the devices in stock. */
function todayBest(result: Result): string | undefined {
  const best = result.readiness.best_today ?? [];
  if (best.length === 0) return undefined;
  const lines = best.map(
    (one) =>
      `**${markdownText(one.feeder)}**: ${deviceKind(one.kind)}, ${trimmed(one.diameter_mm)} mm diameter ${KINDS.stated.mark}, code ${markdownText(one.code)}, ${counted(one.count, 'piece')}.`,
  );
  return `The best that the shelf allows today, whatever the kind of device:\n\n${bullets(lines)}`;
}

function readyRow(name: string, ready: Ready): string[] {
  return [
    `**${name}**`,
    ready.ready_today ? (ready.unknown?.length ? 'yes, once confirmed' : 'yes') : '**no**',
    ready.ready_by
      ? markdownText(ready.ready_by)
      : ready.ready_by_absent_because
        ? `no date: ${clause(ready.ready_by_absent_because)}`
        : ready.ready_today
          ? 'today'
          : 'no date can be given',
    ready.missing.length > 0 ? ready.missing.map(markdownText).join('; ') : 'nothing',
    ready.unknown?.length ? ready.unknown.map(markdownText).join('; ') : 'nothing',
  ];
}

const DIRECTION = {
  'stop-and-discuss': 'Stop and discuss',
  'a-to-b': 'From plan A to plan B',
  'b-to-a': 'From plan B to plan A',
} as const;

/** What makes the team leave a plan; those that this patient's data already meet come first. */
export function triggerSection(result: Result): string {
  const triggers = result.readiness.triggers ?? [];
  if (triggers.length === 0) {
    return section(2, 'Triggers for changing plans', [
      'The result lists no trigger; agree in the team beforehand when to change plans.',
    ]);
  }
  const met = triggers.filter((trigger) => trigger.applies);
  const groups = (Object.keys(DIRECTION) as (keyof typeof DIRECTION)[]).flatMap((direction) => {
    const own = triggers.filter((trigger) => trigger.direction === direction);
    const sorted = [
      ...own.filter((trigger) => trigger.applies),
      ...own.filter((trigger) => !trigger.applies),
    ];
    return sorted.map((trigger) => [
      DIRECTION[direction],
      sentence(trigger.text),
      `${trigger.applies ? '**yes**' : 'no'}${trigger.because ? `: ${clause(trigger.because)}` : ''}`,
      sourceText(trigger.source),
    ]);
  });
  return section(2, 'Triggers for changing plans', [
    met.length > 0
      ? `**Met already by the data of this case: ${met.length} of ${triggers.length}.**`
      : 'None of these is met by the data of this case.',
    table(['Change', 'When', 'Met already', 'Source'], groups),
  ]);
}

/** What is checked after the procedure, and when. */
export function followUpSection(result: Result): string {
  const items = result.readiness.follow_up ?? [];
  if (items.length === 0) {
    return section(2, 'Follow-up', ['The result lists no follow-up; use the local protocol.']);
  }
  const hasDates = items.some(({ from, to }) => from !== undefined || to !== undefined);
  const when = (from?: string, to?: string): string => {
    if (from && to) return from === to ? markdownText(from) : `${markdownText(from)} to ${markdownText(to)}`;
    if (from) return `from ${markdownText(from)}`;
    if (to) return `until ${markdownText(to)}`;
    return hasDates ? 'no date of its own' : 'no date: the day of the procedure is not set';
  };
  return section(2, 'Follow-up', [
    bullets(
      items.map(
        (item) =>
          `${sentence(item.what)} When: ${when(item.from, item.to)}. Source: ${sourceText(item.source)}.`,
      ),
    ),
  ]);
}
