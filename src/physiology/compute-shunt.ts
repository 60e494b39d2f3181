import type { Case, GasSample } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import { CONSTANTS } from '../reference/constants.js';
import { SOURCES } from '../reference/sources.js';
import type { Shunt } from '../result/result.generated.js';
import {
  checkAgainstAlveolar,
  checkBlood,
  checkWrittenGas,
  mmHgAndKPa,
  percent,
} from './gas-plausibility.js';
import { shuntFromDissolved } from './shunt-equation.js';
import { type ResolvedSample, resolveSample, type ShuntInput } from './shunt-inputs.js';
import { shuntInterval } from './shunt-interval.js';
import { type ShuntWorking, workShunt } from './shunt-model.js';

export interface ShuntOutcome {
  /** Undefined only where there is no arterial sample at all. */
  shunt?: Shunt;
  findings: Finding[];
  /** The numbers the answer went through, for a reader who wants every step. */
  resolved?: ResolvedSample;
  working?: ShuntWorking;
}

const c = CONSTANTS;

/** The samples and blood of a case, for the visit before or after treatment. */
export function shuntInputOfCase(subject: Case, when: 'before' | 'after'): ShuntInput {
  return {
    samples: subject.gases,
    when,
    haemoglobinGDl: subject.blood.haemoglobinGDl,
    haematocritFraction: subject.blood.haematocritFraction,
    cardiacOutputLMin: subject.circulation.cardiacOutputLMin,
    oxygenUptakeMlMin: subject.circulation.oxygenUptakeMlMin,
  };
}

/**
 * Right-to-left shunt of one visit, with what it rests on.
 *
 * Method    `content`: full oxygen contents on 100 % oxygen; `room-air`: the same on less oxygen, an estimate, since uneven
 *           ventilation then counts as shunt; `dissolved`: without haemoglobin, PaO2 150 mmHg or more
 * Saturation  below 150 mmHg the measured one; from 150 mmHg up with 98 % or more measured the curve, and the
 *           other answer stands in `other_saturation`
 * Refuses   samples whose numbers cannot be what they say, and a fraction outside 0..1: then `absent_because` and a finding
 * Chooses   a sample on 100 % oxygen before one on less, then the one with more measured values, then the first
 * Checked   tests/check-values/shunt.csv, tests/physiology/compute-shunt.test.ts
 */
export function computeShunt(input: ShuntInput): ShuntOutcome {
  const arterial = input.samples.filter((s) => s.site === 'arterial' && s.when === input.when);
  if (arterial.length === 0) {
    const which = input.samples.some((s) => s.when !== input.when) ? ' from before the treatment' : '';
    const text = `No arterial blood gas${which}: the shunt${which && ' of that time'} cannot be computed. Add a sample, best after 20 min on 100 % oxygen.`;
    return { findings: input.when === 'before' ? [finding('caution', 'gases-absent', 'gases', text)] : [] };
  }
  const blood = checkBlood(input.haemoglobinGDl, input.haematocritFraction);
  const outcomes = [...arterial]
    .sort((a, b) => preference(b) - preference(a))
    .map((s) => shuntOfSample(s, input, blood));
  const chosen = outcomes.find((o) => o.shunt?.fraction !== undefined) ?? outcomes[0];
  const others = outcomes
    .filter((o) => o !== chosen)
    .flatMap((o) => [...o.findings.filter((f) => f.level === 'stop'), ...otherSample(o)]);
  return { ...chosen, findings: [...blood, ...chosen.findings, ...others] };
}

function shuntOfSample(sample: GasSample, input: ShuntInput, blood: readonly Finding[]): ShuntOutcome {
  const findings = [...checkWrittenGas(sample), ...checkOxygenTime(sample)];
  const onOxygen = sample.fio2 === 1;
  const absent = (because: string, method: Shunt['method'], more: Partial<Shunt> = {}): ShuntOutcome => ({
    shunt: { method, sample: sample.name, ...more, assumed: more.assumed ?? [], absent_because: because },
    findings: [
      ...findings,
      finding('caution', 'shunt-absent', sample.path, `The shunt was not computed: ${because}`),
    ],
  });
  const intended = sample.fio2 === undefined || onOxygen ? 'content' : 'room-air';
  const slip = [...findings, ...blood].find((f) => f.level === 'stop');
  if (slip) return absent(slip.text, intended);
  const answer = resolveSample(sample, input);
  if ('absentBecause' in answer) return absent(answer.absentBecause, intended);
  const { resolved } = answer;
  findings.push(...resolved.findings);
  const { numbers } = resolved;
  const working = workShunt(numbers);
  findings.push(...checkAgainstAlveolar(sample, working.alveolarPo2MmHg, numbers.barometricMmHg));
  const refusal = dissolvedRefusal(numbers.fio2, numbers.po2MmHg, working);
  const method = !onOxygen ? 'room-air' : numbers.haemoglobinGDl !== undefined ? 'content' : 'dissolved';
  const steps = stepsOf(working, numbers.barometricMmHg);
  const give = { ...steps, assumed: resolved.assumed };

  if (working.alveolarPo2MmHg <= 0) {
    return absent(
      'The alveolar PO2 comes out below zero: FiO2, pressure and PaCO2 contradict each other.',
      method,
      give,
    );
  }
  if (numbers.haemoglobinGDl === undefined && (method !== 'dissolved' || refusal)) {
    return absent(
      `Haemoglobin is missing, and the dissolved-only form does not count: ${refusal ?? ''}`,
      method,
      give,
    );
  }
  const impossible = findings.find((f) => f.level === 'stop');
  if (impossible) return absent(impossible.text, method, give);
  if ((working.venousContentMlDl ?? 0) < 0) {
    return absent(
      `The arterial content of ${fixed(working.arterialContentMlDl ?? 0, 1)} mL/dL is less than the arterio-venous difference of ${fixed(working.avDifferenceMlDl, 1)} mL/dL: the difference cannot hold here. A mixed-venous sample is needed.`,
      method,
      give,
    );
  }
  if (!(working.fraction >= 0 && working.fraction <= 1)) {
    const why =
      working.fraction < 0
        ? 'arterial blood would hold more oxygen than end-capillary blood'
        : 'mixed-venous blood would hold as much oxygen as arterial blood';
    findings.push(
      finding(
        'caution',
        'shunt-out-of-range',
        sample.path,
        `The equation gives ${percent(working.fraction)}: ${why}. Check the sample; no shunt is given.`,
      ),
    );
    return absent(
      `The equation gives ${percent(working.fraction)}, outside 0 to 100 %: ${why}.`,
      method,
      give,
    );
  }
  if (method === 'room-air') {
    findings.push(
      finding(
        'note',
        'room-air-estimate',
        sample.path,
        `At FiO2 ${fixed(numbers.fio2, 2)} uneven ventilation and slow diffusion count as shunt: this is an estimate. Measure on 100 % oxygen.`,
      ),
    );
  }
  const interval = shuntInterval(numbers, resolved.spread, working.fraction);
  const shunt: Shunt = {
    fraction: rounded(working.fraction, 5),
    interval: [rounded(interval[0], 4), rounded(interval[1], 4)],
    method,
    sample: sample.name,
    ...steps,
    dissolved_only: refusal
      ? { refused_because: refusal }
      : {
          fraction: rounded(
            shuntFromDissolved(working.alveolarPo2MmHg, numbers.po2MmHg, working.avDifferenceMlDl),
            5,
          ),
        },
    ...otherSaturation(resolved),
    ...sensitivity(resolved, input),
    assumed: resolved.assumed,
  };
  return { shunt, findings, resolved, working };
}

/** Why the dissolved-only form does not count here, or undefined where it does. */
function dissolvedRefusal(fio2: number, po2MmHg: number, working: ShuntWorking): string | undefined {
  if (fio2 !== 1) return `FiO2 is ${fixed(fio2, 2)}: the dissolved-only form needs 100 % oxygen.`;
  const limit = c.fullSaturationPo2MmHg.value;
  if (po2MmHg >= limit) return undefined;
  const ceiling = shuntFromDissolved(
    working.alveolarPo2MmHg,
    c.assumedPaco2MmHg.value,
    c.assumedAvDifferenceMlDl.value,
  );
  return `PaO2 ${mmHgAndKPa(po2MmHg)} is below ${limit} mmHg: arterial blood is not fully saturated, and the dissolved-only form levels off near ${percent(ceiling, 0)} whatever the true shunt.`;
}

function stepsOf(working: ShuntWorking, barometricMmHg: number): Partial<Shunt> {
  const content = (value: number | undefined) => (value === undefined ? undefined : rounded(value, 4));
  const steps: Partial<Shunt> = {
    alveolar_po2_mmhg: rounded(working.alveolarPo2MmHg, 2),
    barometric_mmhg: rounded(barometricMmHg, 2),
    arterial_saturation_percent: rounded(100 * working.arterialSaturation, 3),
    end_capillary_content_ml_dl: content(working.endCapillaryContentMlDl),
    arterial_content_ml_dl: content(working.arterialContentMlDl),
    venous_content_ml_dl: content(working.venousContentMlDl),
    av_difference_ml_dl: rounded(working.avDifferenceMlDl, 4),
  };
  return Object.fromEntries(Object.entries(steps).filter(([, value]) => value !== undefined));
}

/** The answer with the saturation that was not used, where there is one and the answer is possible. */
function otherSaturation(resolved: ResolvedSample): Pick<Shunt, 'other_saturation'> {
  const measured = resolved.sample.so2Fraction;
  if (measured === undefined || resolved.sample.po2MmHg === undefined) return {};
  if (resolved.numbers.haemoglobinGDl === undefined) return {};
  const measuredWasUsed = resolved.saturationBasis === 'measured';
  const other = workShunt({
    ...resolved.numbers,
    arterialSaturation: measuredWasUsed ? undefined : measured,
  });
  if (!(other.fraction >= 0 && other.fraction <= 1) || (other.venousContentMlDl ?? 0) < 0) return {};
  const basis = measuredWasUsed
    ? `${percent(other.arterialSaturation)} from PO2 by the dissociation curve`
    : `${percent(measured)} as measured`;
  return { other_saturation: { fraction: rounded(other.fraction, 5), basis } };
}

/** Other arterio-venous differences in use; none where a mixed-venous sample was measured. */
function sensitivity(resolved: ResolvedSample, input: ShuntInput): Pick<Shunt, 'sensitivity'> {
  if (resolved.numbers.venous) return {};
  const used = resolved.numbers.avDifferenceMlDl;
  const candidates: { value: number; source: string }[] = [
    { value: c.assumedAvDifferenceMlDl.value, source: `convention, ${SOURCES['chiang-1968'].cite}` },
    {
      value: c.measuredAvDifferenceHhtMlDl.value,
      source: `measured in HHT, ${SOURCES['clin-sci-2002'].cite}`,
    },
  ];
  if (input.oxygenUptakeMlMin && input.cardiacOutputLMin) {
    candidates.push({
      value: input.oxygenUptakeMlMin / (10 * input.cardiacOutputLMin),
      source: "this patient's oxygen uptake over cardiac output (Fick)",
    });
  }
  const rows = candidates
    .filter(({ value }) => Math.abs(value - used) > 1e-9)
    .map(({ value, source }) => {
      const { fraction } = workShunt({ ...resolved.numbers, avDifferenceMlDl: value });
      return { av_difference_ml_dl: rounded(value, 3), fraction: rounded(fraction, 5), source };
    });
  return rows.length > 0 ? { sensitivity: rows } : {};
}

function checkOxygenTime(sample: GasSample): Finding[] {
  if (sample.fio2 !== 1) return [];
  const where = `${sample.path}.minutes_on_oxygen`;
  const needed = c.oxygenWashoutMinutes.value;
  if (sample.minutesOnOxygen === undefined) {
    return [
      finding(
        'note',
        'oxygen-time-unknown',
        where,
        `How long the patient breathed 100 % oxygen is not given; ${needed} min are needed to wash out nitrogen.`,
      ),
    ];
  }
  if (sample.minutesOnOxygen >= needed) return [];
  return [
    finding(
      'caution',
      'oxygen-too-short',
      where,
      `${fixed(sample.minutesOnOxygen, 0)} min on 100 % oxygen is short of ${needed} min: nitrogen left in the lung makes the shunt read too high. Repeat after ${needed} min.`,
    ),
  ];
}

function preference(sample: GasSample): number {
  const measured = [
    sample.po2MmHg,
    sample.pco2MmHg,
    sample.barometricMmHg ?? sample.altitudeM,
    sample.so2Fraction,
  ];
  return (
    (sample.fio2 === 1 ? 100 : sample.fio2 === undefined ? 0 : 50) +
    measured.filter((v) => v !== undefined).length
  );
}

function otherSample(outcome: ShuntOutcome): Finding[] {
  const { shunt } = outcome;
  if (!shunt) return [];
  const answer =
    shunt.fraction === undefined
      ? `gives none: ${shunt.absent_because}`
      : `gives ${percent(shunt.fraction)} (${shunt.method})`;
  return [
    finding(
      'note',
      'shunt-other-sample',
      'gases',
      `The sample ${shunt.sample} ${answer}; it is not the one reported.`,
    ),
  ];
}
