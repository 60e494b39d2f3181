import { describe, expect, it } from 'vitest';
import type { Case } from '../../src/case/case.js';
import { stockToday, urgentPlan } from '../../src/plan/urgent.js';
import { plug } from '../devices/make.js';
import { landing, lesionOf } from '../resection/make.js';
import { inputOf, RULES, row } from './make.js';

const urgentOf = (more = {}, patientCase: Partial<Case> = {}, order: string[] = []) => {
  const input = inputOf(row(more), patientCase);
  return urgentPlan({
    ...input,
    lesion: input.lesion ?? lesionOf([]),
    shelf: { asOf: '2026-03-20', devices: [] },
    order,
  });
};
const patient = (more: Partial<Case['patient']> = {}): Partial<Case> => ({
  patient: { history: [], hht: {}, spirometry: {}, allergies: [], ageYears: 46, ...more },
});
const textOf = (found: ReturnType<typeof urgentOf>): string =>
  found.urgent.steps.map(({ text }) => text).join('\n');

describe('the hour of a bleed', () => {
  it('is written for every case, on standby until it bleeds', () => {
    expect(urgentOf().urgent).toMatchObject({
      state: 'standby',
      feeder: 'A1',
      device_code: 'PLUG-8.6',
      stock_as_of: '2026-03-20',
    });
    expect(urgentOf({}, { bleeding: { now: 'yes' } }).urgent.state).toBe('bleeding');
    expect(urgentOf({}, { bleeding: { within24h: 'yes', now: 'no' } }).urgent.state).toBe('bleeding');
    expect(urgentOf({}, { bleeding: { now: 'unknown' } }).urgent.state).toBe('standby');
  });

  it('the balloon is 1.0 to 1.2 of the calibre, one for each feeder (common practice)', () => {
    const { urgent } = urgentOf({ feeders: '6.2:20+5:20', shelf: 'P8.6 P7o' });
    expect(urgent.balloon_mm).toEqual([6.2, 7.44]);
    // the landing zone itself is given as well
    const { calibre_interval_mm: interval, ...zone } = urgent.feeders[0];
    expect(zone).toMatchObject({ calibre_mm: 6.2, landing_length_mm: 20 });
    expect(interval).toEqual(landing().calibreIntervalMm);
    expect(
      urgent.feeders.map(({ name, device_code, balloon_mm }) => [name, device_code, balloon_mm]),
    ).toEqual([
      ['A1', 'PLUG-8.6', [6.2, 7.44]],
      ['A2', null, [5, 6]],
    ]);
  });

  it('the first to close has the largest share of flow, otherwise the widest landing zone', () => {
    expect(urgentOf({ feeders: '5:20+6.2:20' }).urgent.feeder).toBe('A2');
    expect(urgentOf({ feeders: '5:20+6.2:20' }, {}, ['A1', 'A2']).urgent.feeder).toBe('A1');
  });

  it('a device only on order, none that fits, or no shelf: null', () => {
    for (const shelf of ['P8.6o', 'P8', '-', ''])
      expect(urgentOf({ shelf }).urgent.device_code, shelf).toBeNull();
    expect(textOf(urgentOf({ shelf: 'P8.6o' }))).toContain('no device in stock fits');
    expect(textOf(urgentOf({ shelf: '' }))).toContain('the stock is not known');
  });

  it('the first choice is stated once, and agrees with the recommendation', () => {
    const bleeding = { now: 'yes', stable: 'yes' } as const;
    const first = (more = {}, patientCase: Partial<Case> = {}): string => {
      const found = textOf(urgentOf(more, patientCase))
        .split('\n')
        .filter((text) => text.startsWith('First choice'));
      expect(found).toHaveLength(1);
      return found[0];
    };
    expect(first({}, { bleeding })).toMatch(
      /embolise what the stock closes \(A1\), as the patient is stable/,
    );
    expect(first({ shelf: 'P8' }, { bleeding })).toMatch(
      /balloon or proximal occlusion as a bridge.*Fallback: operate/,
    );
    expect(first({ shelf: 'P8', balloon: 'no' }, { bleeding })).toMatch(
      /choice: operate.*no balloon is at hand/,
    );
    expect(first({ shelf: 'P8', balloon: 'no', isolation: 'no' }, { bleeding })).toMatch(
      /balloon or proximal occlusion/,
    );
    expect(first({ shelf: 'P8', balloon: 'yes' }, { bleeding })).toMatch(/balloon or proximal occlusion/);
    expect(first({}, { bleeding: { now: 'yes' } })).toMatch(
      /whichever is ready first, catheter laboratory or theatre.*stable: unknown.*closes: A1/,
    );
    expect(first({ shelf: '' }, { bleeding: { now: 'yes', stable: 'no' } })).toMatch(/stable: no/);
    expect(first({ shelf: '' }, { bleeding })).toMatch(/stock is not known/);
    expect(first({ feeders: '' }, { bleeding })).toMatch(
      /stock is not known \(no shelf, or no feeder measured\)/,
    );
    expect(first({ feeders: 'closed' })).toMatch(/no feeding artery is open on this scan/);
    expect(first({ feeders: 'closed' }, { bleeding })).toMatch(/no feeding artery is open on this scan/);
    expect(first()).toMatch(/if stable, embolise.*if unstable/);
    expect(first({ shelf: 'P8' })).toMatch(/no device in stock fits/);
  });

  it('a feeder without a landing zone has neither device nor balloon, and the main artery is clamped', () => {
    const { urgent } = urgentOf({ feeders: 'x5' });
    expect(urgent.feeders).toEqual([{ name: 'A1', device_code: null }]);
    expect(urgent.balloon_mm).toBeUndefined();
    expect(urgent.clamp_site).toBe(
      'left main pulmonary artery, taped first; no landing zone was measured to clamp on',
    );
    expect(urgentOf({ feeders: '' }).urgent).toMatchObject({ device_code: null, feeders: [] });
  });

  it('gives both branches where it is unknown into what it bleeds, otherwise the one', () => {
    const both = textOf(urgentOf());
    expect(both).toContain('ISOLATE left, VENTILATE right');
    expect(both).toContain('no drain before the lesion is controlled');
    const airway = textOf(urgentOf({}, { bleeding: { now: 'yes', into: 'airway' } }));
    expect(airway).toContain('ISOLATE left');
    expect(airway).not.toContain('no drain');
    const chest = textOf(urgentOf({}, { bleeding: { now: 'yes', into: 'chest' } }));
    expect(chest).not.toContain('ISOLATE');
    expect(chest).toContain('no drain');
  });

  it('the sides are swapped on the right, and never omitted without a side', () => {
    expect(textOf(urgentOf({}, { lesion: { side: 'right', lobe: 'lower', segments: [] } }))).toContain(
      'ISOLATE right, VENTILATE left',
    );
    const nowhere = textOf(urgentOf({}, { lesion: { segments: [] } }));
    expect(nowhere).not.toContain('ISOLATE');
    expect(nowhere).toContain('does not give the side');
  });

  it('anticoagulant, pregnancy and blood group are given as written', () => {
    const found = textOf(
      urgentOf(
        {},
        patient({
          anticoagulated: 'yes',
          anticoagulant: { agent: 'apixaban', dose: '5 mg', lastDose: '2026-03-19 20:00' },
          pregnant: 'yes',
          gestationWeeks: 24,
          bloodGroup: 'A pos',
        }),
      ),
    );
    expect(found).toContain(
      'Anticoagulated (apixaban, 5 mg, last dose 2026-03-19 20:00): reverse by local protocol.',
    );
    expect(found).toContain('Pregnant (24 weeks): does not delay');
    expect(found).toContain('group A pos (unverified)');
    expect(textOf(urgentOf({}, patient({ anticoagulated: 'no', pregnant: 'no' })))).not.toMatch(
      /Anticoagulated|Pregnant/,
    );
  });

  it('lists the team as written; missing members are named and asked for', () => {
    const { urgent, findings } = urgentOf(
      {},
      {
        team: [
          { role: 'surgeon', contact: '0101' },
          { role: 'ward', contact: '7' },
        ],
      },
    );
    expect(urgent.call).toEqual([
      { role: 'surgeon', contact: '0101' },
      { role: 'ward', contact: '7' },
      { role: 'interventionist' },
      { role: 'anaesthesia' },
      { role: 'blood_bank' },
      { role: 'hyperbaric_centre' },
    ]);
    expect(findings.map(({ id }) => id)).toEqual(['urgent-incomplete']);
    expect(findings[0].text).toContain('team.interventionist');
    expect(urgentOf({}, patient({ pregnant: 'yes' })).urgent.call).toContainEqual({ role: 'obstetrics' });
  });

  it('every step has a source and no gaps', () => {
    for (const { text, source } of urgentOf().urgent.steps) {
      expect(source.length).toBeGreaterThan(5);
      expect(text).not.toMatch(/[{}]|undefined|NaN/);
    }
  });
});

describe('what the stock closes', () => {
  const feeder = { name: 'A1', calibreMm: 6.2, zoneLengthMm: 20 };
  it('sets an allergy aside only where that closes more feeders', () => {
    const nickel = plug(8.6, { nickel: 'yes' });
    const free = plug(8.7, { nickel: 'no' });
    const stock = (devices: (typeof nickel)[]) =>
      stockToday([feeder], { shelf: { devices }, allergies: ['nickel'], rules: RULES });
    expect(stock([nickel])).toEqual({ A1: 'PLUG-8.6' });
    expect(stock([nickel, free])).toEqual({ A1: 'PLUG-8.7' });
  });
  it('uses each piece once, and nothing without a shelf', () => {
    const two = [feeder, { ...feeder, name: 'A2' }];
    const shelf = { devices: [plug(8.6, { inStock: 1 })] };
    expect(Object.keys(stockToday(two, { shelf, rules: RULES }) ?? {})).toHaveLength(1);
    expect(stockToday(two, { rules: RULES })).toBeUndefined();
  });
});
