import { describe, expect, it } from 'vitest';
import { renderUrgent } from '../../src/report/urgent.js';
import { STANDING_CAUTIONS } from '../../src/result/cautions.js';
import type { Result } from '../../src/result/result.generated.js';
import { twoFeeders, withStrings } from './fixtures.js';

type Urgent = NonNullable<Result['urgent']>;

const STEPS: Urgent['steps'] = [
  { id: 'urgent-first-choice', text: 'First choice: embolise.', source: 'common practice, no source' },
  { id: 'urgent-oxygen', text: '100 % oxygen.', source: 'bts-2017' },
  { id: 'urgent-airway', text: 'Into the airway: ISOLATE left, VENTILATE right.', source: 'bts-2017' },
  { id: 'urgent-chest', text: 'Into the chest: no drain before control.', source: 'bts-2017' },
  { id: 'urgent-balloon', text: 'Balloon: compliant.', source: 'common practice, no source' },
  { id: 'urgent-blood', text: 'Blood: group O.', source: 'common practice, no source' },
  { id: 'urgent-stroke', text: 'Stroke: no lysis.', source: 'bts-2017' },
];

function caseWith(urgent: Partial<Urgent> = {}): Result {
  const result = twoFeeders();
  result.urgent = {
    state: 'standby',
    feeder: 'A1',
    device_code: 'PLUG-10',
    stock_as_of: '2026-03-20',
    feeders: [
      {
        name: 'A1',
        calibre_mm: 7.6,
        calibre_interval_mm: [7.2, 8],
        landing_length_mm: 14,
        device_code: 'PLUG-10',
        balloon_mm: [7.6, 9.12],
      },
      { name: 'A2', calibre_mm: 4.1, landing_length_mm: 9, device_code: null, balloon_mm: [4.1, 4.92] },
    ],
    balloon_mm: [7.6, 9.12],
    clamp_site: 'left main pulmonary artery, taped first',
    call: [{ role: 'interventionist', contact: 'ward 4, bleep 12' }, { role: 'blood_bank' }],
    steps: STEPS,
    ...urgent,
  };
  return result;
}

describe('urgent.md', () => {
  it('is headed STANDBY until the lesion bleeds', () => {
    expect(renderUrgent(caseWith())).toMatch(/^# STANDBY: left lower lobe\n/);
    expect(renderUrgent(caseWith({ state: 'bleeding' }))).toMatch(/^# BLEEDING: left lower lobe\n/);
  });

  it('keeps the order of the hour: where, whom to call, first choice, airway, chest, feeders, operation, blood, stroke', () => {
    const text = renderUrgent(caseWith())!;
    const places = [
      '**Where**',
      '**Call**: interventionist ward 4, bleep 12; blood bank **not stated**',
      '**First choice**',
      'ISOLATE left, VENTILATE right',
      '**Into the chest**',
      '**A1**: calibre 7.6 mm (m) (7.2 to 8.0 mm)',
      '**A2**: calibre 4.1 mm (m)',
      '**Spare**',
      '**Clamp**',
      '**Balloon**',
      '**Blood**',
      '**Stroke**',
      'Sources: ',
    ].map((part) => text.indexOf(part));
    expect(places).not.toContain(-1);
    expect(places).toEqual(places.toSorted((a, b) => a - b));
  });

  it('says NONE where no device in stock fits, and names device and balloon where one does', () => {
    const text = renderUrgent(caseWith())!;
    expect(text).toMatch(/\*\*A1\*\*.*code PLUG-10.*balloon 7\.6 to 9\.1 mm \(d\)/);
    expect(text).toMatch(/\*\*A2\*\*.*device in stock: \*\*NONE\*\*/);
  });

  it('has at most 60 lines with 40 feeders and a large team, every caution, and each source once', () => {
    const feeders = Array.from({ length: 40 }, (_, n) => ({
      name: `A${n + 1}`,
      calibre_mm: 3,
      device_code: null,
    }));
    const call = Array.from({ length: 20 }, (_, n) => ({ role: `role_${n}`, contact: 'x'.repeat(80) }));
    const steps = Array.from({ length: 20 }, (_, n) => ({ ...STEPS[n % STEPS.length] }));
    const text = renderUrgent(caseWith({ feeders, call, steps }))!;
    expect(text.split('\n').length).toBeLessThanOrEqual(60);
    for (const caution of STANDING_CAUTIONS) expect(text).toContain(caution);
    expect(text.match(/BTS Clinical Statement/g)).toHaveLength(1);
    expect(text).toContain('Further feeders: A13');
  });

  it('takes no markup from the case', () => {
    const text = renderUrgent(withStrings(caseWith(), (words) => `${words}<b>|\n# x`))!;
    expect(text).not.toMatch(/<b>|^# x/m);
    expect(text.split('\n').length).toBeLessThanOrEqual(60);
  });

  it('is omitted where the result has no urgent plan', () => {
    expect(renderUrgent(twoFeeders())).toBeUndefined();
  });
});
