import MarkdownIt from 'markdown-it';
import { describe, expect, test } from 'vitest';
import type { CounsellingSheet } from '../../src/plan/counselling.js';
import { renderChecklist } from '../../src/report/checklist.js';
import { renderCounselling } from '../../src/report/counselling.js';
import { figuresOf } from '../../src/report/figures/figures.js';
import { type PlanExtras, renderPlan } from '../../src/report/plan.js';
import { STANDING_CAUTIONS } from '../../src/result/cautions.js';
import type { Result } from '../../src/result/result.generated.js';
import { nearlyEmpty, oneFeeder, twoFeeders, withStrings } from './fixtures.js';
import { expectGolden } from './golden.js';

const sheet = (text: string): CounsellingSheet => ({
  title: `About your treatment ${text}`,
  sections: [
    { heading: `What it is ${text}`, sentences: [`It is a channel between an artery and a vein ${text}`] },
    { heading: 'Nothing known', sentences: [] },
  ],
  sources: [`Thorax 2017;72:1154 ${text}`],
});

const HOSTILE =
  'x <img src=x onerror=alert(1)> </script> | a || `b` \n\n# c\n- d [x](javascript:alert(1)) ![y](z.svg) <http://a.example> &lt;i&gt;';

const results: [string, Result][] = [
  ['one feeder', oneFeeder()],
  ['two feeders', twoFeeders()],
  ['nearly empty', nearlyEmpty()],
  ['hostile', withStrings(twoFeeders(), (text) => text + HOSTILE)],
  ['hostile first', withStrings(twoFeeders(), (text) => HOSTILE.slice(2) + text)],
  ['hostile, nearly empty', withStrings(nearlyEmpty(), (text) => `# ${text}${HOSTILE}`)],
];

/** The plan with the figures that the result has data for. */
const planOf = (result: Result, { figures = [], ...extras }: PlanExtras = {}): string =>
  renderPlan(result, { ...extras, figures: [...figuresOf(result), ...figures] });

const documents = results.flatMap(([name, result]): [string, Result, string][] => {
  const text = name.startsWith('hostile') ? HOSTILE : '';
  return [
    [`plan.md, ${name}`, result, planOf(result)],
    [`checklist.md, ${name}`, result, renderChecklist(result)],
    [`counselling.md, ${name}`, result, renderCounselling(sheet(text), result)],
  ];
});

const reader = new MarkdownIt({ html: true });
const flat = (markdown: string) =>
  reader.parse(markdown, {}).flatMap((token) => [token, ...(token.children ?? [])]);

/** Headings with their level, in order. */
function headings(markdown: string): { level: number; text: string }[] {
  const tokens = reader.parse(markdown, {});
  return tokens.flatMap((token, i) =>
    token.type === 'heading_open'
      ? [{ level: Number(token.tag.slice(1)), text: tokens[i + 1]!.content }]
      : [],
  );
}

describe.each(documents)('%s', (name, result, text) => {
  test('contains no markup, link or image of the case', () => {
    const tokens = flat(text);
    expect(
      tokens.filter((token) => /^html|^link|^code|^fence|^s_open|^em_open|blockquote/.test(token.type)),
    ).toEqual([]);
    const images = tokens.filter((token) => token.type === 'image').map((token) => token.attrGet('src'));
    const figures = name.startsWith('plan.md')
      ? figuresOf(result).map((figure) => `figures/${figure.name}`)
      : [];
    expect(images).toEqual(figures);
  });

  test('prints no missing value', () => {
    expect(text).not.toMatch(/NaN|undefined|\bnull\b|\[object|Infinity|-0\.0/);
  });

  test('has no empty heading and no table with uneven rows', () => {
    const tokens = reader.parse(text, {});
    tokens.forEach((token, i) => {
      if (token.type !== 'heading_close') return;
      const next = tokens[i + 1];
      const level = Number(token.tag.slice(1));
      const deeper = next?.type === 'heading_open' && Number(next.tag.slice(1)) > level;
      expect(next !== undefined && (next.type !== 'heading_open' || deeper), `after heading ${i}`).toBe(true);
    });
    for (const line of text.split('\n').filter((row) => row.startsWith('|')))
      expect(line).toMatch(/^\| .* \|$|^(\|:?-+:?)+\|$/);
    // A row with unescaped pipes would lose its tail: count the cells of the raw line against the header's.
    let header = 0;
    for (const line of text.split('\n')) {
      const cells = line.startsWith('|') ? line.replace(/\\\|/g, '').split('|').length : 0;
      if (cells && header) expect(cells, line).toBe(header);
      header = cells;
    }
  });

  test('ends with provenance and every caution', () => {
    expect(
      headings(text)
        .slice(-2)
        .map((heading) => heading.text),
    ).toEqual(['Provenance', 'Cautions']);
    for (const caution of STANDING_CAUTIONS) expect(text).toContain(caution);
    if (!name.includes('hostile')) {
      for (const input of result.inputs) expect(text).toContain(input.sha256);
      for (const caution of result.cautions) expect(text).toContain(caution);
    }
  });

  test('ends with one newline and contains no carriage return', () => {
    expect(text).toMatch(/[^\n]\n$/);
    expect(text).not.toContain('\r');
  });
});

describe('plan.md', () => {
  test('has its sections in order', () => {
    expect(
      headings(planOf(nearlyEmpty()))
        .filter((h) => h.level < 3)
        .map((h) => h.text),
    ).toEqual([
      'Plan: Case dunlin',
      'Summary',
      'Plan A: embolise',
      'Plan B: resect',
      'Triggers for changing plans',
      'Readiness',
      'Follow-up',
      'Lesion and vessels',
      'Shunt',
      'Virtual closure',
      'Figures',
      'Assumed and given',
      'Findings',
      'Sources',
      'Provenance',
      'Cautions',
    ]);
  });

  test.each(results.slice(0, 3))('every number of the summary has a unit, %s', (_, result) => {
    const summary = planOf(result).split('## Plan A')[0]!.split('## Summary')[1]!;
    const rows = summary.split('\n').filter((line) => /^(- \*\*|\| |To close )/.test(line));
    const numbers = rows.flatMap((row) =>
      [...row.matchAll(/(?<![\w.+-])\d+(?:\.\d+)?(?![\w-]|\.\d)/g)].map((m) =>
        row.slice(m.index, m.index + m[0].length + 24),
      ),
    );
    expect(numbers.length).toBeGreaterThan(2);
    for (const number of numbers) {
      expect(number).toMatch(
        /^[\d.]+(?: to [\d.]+)? (?:mm|%|mL|pieces?|days|minutes|feeding arter(?:y|ies)|draining veins?|structures?)(?![a-z])/,
      );
    }
  });

  test('the checklist counts the stops it lists, including findings', () => {
    const result = twoFeeders();
    result.checklist = result.checklist.filter(({ level }) => level !== 'stop');
    result.findings = [{ id: 'bleeding', level: 'stop', where: 'bleeding', text: 'It bleeds.' }];
    expect(renderChecklist(result)).toContain('Items: 1 STOP,');
    expect(renderChecklist({ ...result, findings: [] })).toContain('Items: 0 STOP,');
  });

  test('the summary answers the questions of the first minute', () => {
    const summary = planOf(twoFeeders()).split('## Plan A')[0]!;
    for (const answer of [
      'Plan A: embolise',
      '**A1** (feeding artery)',
      '7.6 mm (7.2 to 8.0 mm) (m)',
      'code PLUG-10',
      '31.6 % (25.0 to 38.9 %) (d)',
      '31.0 % (95 % interval 27.0 to 35.5 %) (d) of cardiac output',
      '**B1** (supplies S8), 12.4 mm (m) from the line of division',
      'PLUG-10 for A1, lead time 21 days',
      'Group and crossmatch. Exercise test.',
      '**STOP** A1: the only plug that fits',
    ]) {
      expect(summary).toContain(answer);
    }
  });

  test.each([
    ['measured', '(m)'],
    ['derived', '(d)'],
    ['assumed', '(a)'],
    ['stated', '(s)'],
  ] as const)('marks each shunt value with its origin in the result: %s', (origin, mark) => {
    const result = oneFeeder();
    result.shunt!.origins = {
      barometric_mmhg: origin,
      arterial_saturation_percent: origin,
      av_difference_ml_dl: origin,
    };
    const text = planOf(result);
    expect(text).toContain(`Barometric pressure 760 mmHg ${mark}`);
    expect(text).toContain(`arterial saturation used 100.0 % ${mark}`);
    expect(text).toContain(`arterio-venous difference 5.00 ${mark}`);
  });

  test('an empty closure gives the reason from the shunt', () => {
    const result = nearlyEmpty();
    result.closure = [];
    expect(planOf(result)).toContain('Not computed. It needs the shunt. The only arterial sample');
  });

  test('a closure without any values gives each reason once, and no table of gaps', () => {
    const text = planOf(nearlyEmpty());
    expect(text).toContain('- A1; whole lobe resected: the shunt is not known: too short on oxygen.');
    expect(text.split('too short on oxygen')).toHaveLength(2);
  });

  test('angles below zero read RAO and caudal', () => {
    expect(planOf(twoFeeders())).toContain('RAO 22°, cranial 14°');
    expect(planOf(oneFeeder())).toContain('LAO 35°, caudal 10°');
  });

  test('prints the values passed in, and links further figures', () => {
    const text = planOf(oneFeeder(), {
      values: [{ what: 'Haemoglobin | <b>', value: '15.0 g/dL', kind: 'measured' }],
      figures: [{ name: 'view-front.svg', alt: 'The lesion from the front' }],
    });
    expect(text).toContain('Measured (m): Haemoglobin \\| &lt;b&gt; 15.0 g/dL.');
    expect(text).toContain('![The lesion from the front](figures/view-front.svg)');
  });

  test('same result, same bytes, whatever the order of the vessels in the result', () => {
    const turned = twoFeeders();
    turned.vessels = Object.fromEntries(Object.entries(turned.vessels).reverse());
    turned.devices = Object.fromEntries(Object.entries(turned.devices).reverse());
    expect(planOf(turned)).toBe(planOf(twoFeeders()));
  });

  test('a vessel called constructor does not find a device that is not there', () => {
    const result = oneFeeder();
    result.vessels = { constructor: result.vessels.A1! } as Result['vessels'];
    result.devices = {};
    expect(planOf(result)).toContain('None chosen: the result contains no device for this vessel.');
  });

  test('refuses, rather than prints, a non-finite number', () => {
    const result = oneFeeder();
    result.sac!.volume_ml = Number.NaN;
    expect(() => planOf(result)).toThrow('cannot print the number NaN');
  });
});

describe('each matter is stated once', () => {
  const item = {
    id: 'pulmonary-pressure',
    level: 'stop',
    moment: 'planning',
    text: 'Know the pressure',
    because: 'Mean pressure 44 mmHg: severe',
    source: 'common practice, no source',
  } as const;
  const stopped = (findings: Result['findings'], more: Partial<Result> = {}): Result => ({
    ...oneFeeder(),
    findings,
    checklist: [item],
    ...more,
  });
  const ofChecklist = {
    id: 'checklist-pulmonary-pressure',
    level: 'stop',
    where: 'checklist',
    text: `${item.text} Here: ${item.because}.`,
  } as const;
  const stops = (text: string): number => text.split('**STOP**').length - 1;

  test('a finding that repeats a stop item of the checklist', () => {
    expect(stops(planOf(stopped([ofChecklist])))).toBe(1);
    expect(stops(renderChecklist(stopped([ofChecklist])))).toBe(1);
  });

  test('a stop item on pressure that a finding reports, and a reason with the same numbers', () => {
    const text = 'Mean pressure 44 mmHg: severe';
    const finding = {
      id: 'pulmonary-hypertension',
      level: 'stop',
      where: 'circulation',
      text: `${text}. Stop.`,
    } as const;
    const result = stopped([finding, ofChecklist], { pulmonary_pressure: { reading: 'severe', text } });
    result.readiness = { ...result.readiness, because: [`${text}, so discuss`] };
    const plan = planOf(result);
    expect(stops(plan)).toBe(1);
    expect(plan).toContain('**STOP** circulation: Numbers as in reason 1. Stop.');
  });

  test('a systemic feeder without a device is left to the team, not reported as a gap in the result', () => {
    const result = oneFeeder();
    result.vessels.S1 = { ...result.vessels.V1!, role: 'systemic-feeder' };
    const plan = planOf(result);
    expect(plan).toContain(
      '**S1**: a systemic feeder; no landing zone is looked for and no device is planned.',
    );
    expect(plan).not.toContain('the result gives no reason');
  });

  test('devices refused for one reason are grouped', () => {
    const result = oneFeeder();
    const why = 'the device contains nickel';
    result.devices.A1!.rejected = ['P1', 'P2'].map((code) => ({ code, why }));
    expect(planOf(result)).toContain('Not suitable: P1, P2: the device contains nickel.');
  });
});

describe('checklist.md', () => {
  test('lists stop items first, and each item once, under its moment', () => {
    const text = renderChecklist(twoFeeders());
    expect(
      headings(text)
        .map((heading) => heading.text)
        .slice(1, 6),
    ).toEqual([
      'Stop items',
      'Planning',
      'Sign-in: before anaesthesia',
      'Time-out: before puncture or incision',
      'After the procedure',
    ]);
    for (const item of twoFeeders().checklist) expect(text.split(item.text)).toHaveLength(2);
    expect(text.match(/- \[ \] \*\*(STOP|CAUTION|NOTE|OK)\*\*/g)).toHaveLength(7);
  });

  test('says so where there are no items', () => {
    expect(renderChecklist(nearlyEmpty())).toContain('The result contains no checklist item');
  });
});

describe('golden documents', () => {
  test('plan.md and checklist.md', () => {
    expectGolden('one-feeder.plan.md', planOf(oneFeeder()));
    expectGolden('two-feeders.plan.md', planOf(twoFeeders()));
    expectGolden('nearly-empty.plan.md', planOf(nearlyEmpty()));
    expectGolden('one-feeder.checklist.md', renderChecklist(oneFeeder()));
    expectGolden('two-feeders.checklist.md', renderChecklist(twoFeeders()));
  });
});
