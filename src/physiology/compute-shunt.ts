import type { Case, GasSample } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, rounded } from '../foundation/number-text.js';
import type { Fraction, MlPerDl, MmHg } from '../foundation/unit-types.js';
import { CONSTANTS } from '../reference/constants.js';
import type { Shunt } from '../result/result.generated.js';
import type { Rules } from '../rules/rule.js';
import { otherDifferences } from './av-difference.js';
import { type GasLimits, gasLimits } from './gas-limits.js';
import {
  checkAgainstAlveolar,
  checkBlood,
  checkWrittenGas,
  mmHgAndKPa,
  percent,
} from './gas-plausibility.js';
import { nearZero } from './near-zero.js';
import { shuntFromDissolved } from './shunt-equation.js';
import type { ShuntInput } from './shunt-input.js';
import { type ResolvedSample, resolveSample } from './shunt-inputs.js';
import { drawnInterval, type ShuntDraw, shuntDraws, shuntInterval } from './shunt-interval.js';
import { type ShuntWorking, workShunt } from './shunt-model.js';
import {
  disagreements,
  isOnAir,
  type RoomAirReading,
  roomAirDisagreements,
  smallDifference,
  venousLook,
  type WorkedSample,
} from './sample-agreement.js';

/** `resolved` and `working` are the intermediate numbers; `shunt` is undefined only without any arterial sample. */
export interface ShuntOutcome extends WorkedSample {
  findings: Finding[];
  /** Draws of the true inputs of the answer, which predictions from the shunt use. */
  draws?: ShuntDraw[];
}

const c = CONSTANTS;

/** The samples and blood of a case for the visit before or after treatment. */
export function shuntInputOfCase(patientCase: Case, when: 'before' | 'after', isBaseline = true): ShuntInput {
  return {
    patient: patientCase.patient,
    ...(isBaseline && { oximetry: patientCase.patient.oximetry }),
    samples: patientCase.gases,
    when,
    haemoglobinGDl: patientCase.blood.haemoglobinGDl,
    haematocritFraction: patientCase.blood.haematocritFraction,
    cardiacOutputLMin: patientCase.circulation.cardiacOutputLMin,
    cardiacOutputMethod: patientCase.circulation.cardiacOutputMethod,
    oxygenUptakeMlMin: patientCase.circulation.oxygenUptakeMlMin,
    oxygenUptakeMethod: patientCase.circulation.oxygenUptakeMethod,
  };
}

/**
 * Right-to-left shunt of one visit, with its inputs.
 *
 * Method    `content`: full oxygen contents on 100 % oxygen; `room-air`: the same on less oxygen, an estimate, since uneven
 *           ventilation then counts as shunt; `dissolved`: without haemoglobin, PaO2 150 mmHg or more
 * Saturation  below 150 mmHg the measured one; from 150 mmHg up with 98 % or more measured the curve, and the other answer is in
 *             `other_saturation`
 * Near zero  a shunt that cannot be distinguished from none is 0 with an `upper_limit`; `equation_fraction` keeps the equation's result
 * Refuses   samples with impossible numbers, and a fraction above 1: then `absent_because` and a finding
 * Doubts    samples that contradict each other or look venous: findings, with both answers
 * Chooses   a sample on 100 % oxygen before one on less, then the one with more measured values, then the first
 * Checked   tests/check-values/shunt.csv, tests/physiology/compute-shunt.test.ts
 */
export function computeShunt(input: ShuntInput, rules: Pick<Rules, 'byId'>): ShuntOutcome {
  const limits = gasLimits(rules);
  const arterial = input.samples.filter((s) => s.site === 'arterial' && s.when === input.when);
  if (arterial.length === 0) {
    const which = input.samples.some((s) => s.when !== input.when) ? ' from before the treatment' : '';
    const text = `No arterial blood gas${which}: the shunt${which && ' of that time'} cannot be computed. Add a sample, best after 20 min on 100 % oxygen.`;
    return { findings: input.when === 'before' ? [finding('caution', 'gases-absent', 'gases', text)] : [] };
  }
  const blood = checkBlood(input.haemoglobinGDl, input.haematocritFraction);
  const outcomes = [...arterial]
    .sort((a, b) => preference(b) - preference(a))
    .map((sample) => {
      const outcome = shuntOfSample(sample, input, blood, limits);
      return { ...outcome, sample, doubts: venousLook(sample, outcome.shunt, limits) };
    });
  const chosen = outcomes.find((o) => o.shunt?.fraction !== undefined) ?? outcomes[0];
  const others = outcomes.filter((o) => o !== chosen);
  const onAir = others.flatMap(({ sample, working }): RoomAirReading[] =>
    working === undefined || !isOnAir(sample)
      ? []
      : [
          {
            where: sample.path,
            words: `The saturation on air of the sample ${sample.name}`,
            saturation: working.arterialSaturation,
            alveolarPo2MmHg: working.alveolarPo2MmHg,
          },
        ],
  );
  const { shunt, resolved, working, draws } = chosen;
  return {
    shunt,
    resolved,
    working,
    draws,
    findings: [
      ...blood,
      ...chosen.findings,
      ...outcomes.flatMap(({ doubts }) => doubts),
      ...smallDifference(chosen, limits),
      ...disagreements(chosen, others),
      ...roomAirDisagreements(chosen, [...onAir, ...oximetryReadings(input.oximetry)], limits),
      ...others.flatMap((o) => [...o.findings.filter((f) => f.level === 'stop'), ...otherSample(o)]),
    ],
  };
}

function shuntOfSample(
  sample: GasSample,
  input: ShuntInput,
  blood: readonly Finding[],
  limits: GasLimits,
): ShuntOutcome {
  const findings = [...checkWrittenGas(sample), ...checkOxygenTime(sample)];
  const absent = (because: string, method: Shunt['method'], more: Partial<Shunt> = {}): ShuntOutcome => ({
    shunt: { method, sample: sample.name, ...more, assumed: more.assumed ?? [], absent_because: because },
    findings: [
      ...findings,
      finding('caution', 'shunt-absent', sample.path, `The shunt was not computed: ${because}`),
    ],
  });
  const intended = sample.fio2 === undefined || sample.fio2 === 1 ? 'content' : 'room-air';
  const slip = [...findings, ...blood].find((f) => f.level === 'stop');
  if (slip) return absent(slip.text, intended);
  const answer = resolveSample(sample, input, limits);
  if ('absentBecause' in answer) return absent(answer.absentBecause, intended);
  const { resolved } = answer;
  findings.push(...resolved.findings);
  const { numbers } = resolved;
  const working = workShunt(numbers);
  findings.push(...checkAgainstAlveolar(sample, working.alveolarPo2MmHg, numbers.barometricMmHg, limits));
  const worked: Worked = {
    sample,
    resolved,
    working,
    method: sample.fio2 !== 1 ? 'room-air' : numbers.haemoglobinGDl !== undefined ? 'content' : 'dissolved',
    dissolvedRefusal: dissolvedRefusal(numbers.fio2, numbers.po2MmHg, working),
  };
  const give = { ...stepsOf(working, numbers.barometricMmHg), assumed: resolved.assumed };
  const refusal = refusalOf(worked, findings);
  if (refusal !== undefined) return absent(refusal, worked.method, give);
  const contradiction = outOfRange(working, limits);
  if (contradiction) {
    const why = `The equation gives ${percent(working.fraction)}: ${contradiction}.`;
    findings.push(
      finding('caution', 'shunt-out-of-range', sample.path, `${why} Check the sample; no shunt is given.`),
    );
    return absent(why, worked.method, give);
  }
  if (worked.method === 'room-air') {
    findings.push(
      finding(
        'note',
        'room-air-estimate',
        sample.path,
        `At FiO2 ${fixed(numbers.fio2, 2)} uneven ventilation and slow diffusion count as shunt: this is an estimate. Measure on 100 % oxygen.`,
      ),
    );
  }
  const draws = shuntDraws(numbers, resolved.spread);
  return { shunt: shuntOfNumbers(worked, draws, input, limits), findings, resolved, working, draws };
}

/** One sample with the results of the equations. */
interface Worked {
  sample: GasSample;
  resolved: ResolvedSample;
  working: ShuntWorking;
  method: Shunt['method'];
  /** Why the dissolved-only form is not valid; undefined if it is. */
  dissolvedRefusal?: string;
}

/** Why no shunt is computed from a sample with complete numbers; undefined if one can be. */
function refusalOf(
  { resolved: { numbers }, working, method, dissolvedRefusal: refusal }: Worked,
  findings: readonly Finding[],
): string | undefined {
  if (working.alveolarPo2MmHg <= 0)
    return 'The alveolar PO2 comes out below zero: FiO2, pressure and PaCO2 contradict each other.';
  if (numbers.haemoglobinGDl === undefined && (method !== 'dissolved' || refusal))
    return `Haemoglobin is missing, and the dissolved-only form does not count: ${refusal ?? ''}`;
  const impossible = findings.find((f) => f.level === 'stop');
  if (impossible) return impossible.text;
  if ((working.venousContentMlDl ?? 0) < 0)
    return `The arterial content of ${fixed(working.arterialContentMlDl ?? 0, 1)} mL/dL is less than the arterio-venous difference of ${fixed(working.avDifferenceMlDl, 1)} mL/dL: the difference cannot hold here. A mixed-venous sample is needed.`;
  return undefined;
}

/** The shunt in the form of the result: fraction with interval, steps and alternatives. */
function shuntOfNumbers(
  { sample, resolved, working, method, dissolvedRefusal: refusal }: Worked,
  draws: ShuntDraw[],
  input: ShuntInput,
  limits: GasLimits,
): Shunt {
  const { numbers } = resolved;
  const drawn = drawnInterval(draws);
  const none = nearZero(working.fraction, drawn, limits);
  const interval = none?.interval ?? shuntInterval(working.fraction, drawn);
  const dissolved = (): number =>
    shuntFromDissolved(working.alveolarPo2MmHg, numbers.po2MmHg, working.avDifferenceMlDl);
  return {
    fraction: none?.fraction ?? rounded(working.fraction, 5),
    interval: [rounded(interval[0], 5), rounded(interval[1], 5)],
    ...(none && {
      upper_limit: rounded(none.upperLimit, 5),
      equation_fraction: rounded(none.equationFraction, 5),
    }),
    method,
    sample: sample.name,
    ...stepsOf(working, numbers.barometricMmHg),
    av_difference_basis: resolved.differenceBasis,
    origins: resolved.origins,
    dissolved_only: refusal
      ? { refused_because: refusal }
      : { fraction: rounded(Math.max(0, dissolved()), 5) },
    ...otherSaturation(resolved),
    ...sensitivity(resolved, input),
    assumed: resolved.assumed,
  };
}

/**
 * Pulse oximetry of the case. A reading while lying must match in both directions; one while standing may truly be lower than the sample.
 */
function oximetryReadings(oximetry: ShuntInput['oximetry']): RoomAirReading[] {
  const { lyingFraction: lying, standingFraction: standing } = oximetry ?? {};
  const reading = (key: string, saturation: number | undefined, mayBeLower: boolean): RoomAirReading[] =>
    saturation === undefined
      ? []
      : [
          {
            where: `patient.oximetry.${key}`,
            words: `The saturation on air by oximetry, ${key},`,
            saturation,
            mayBeLower,
          },
        ];
  return [...reading('lying', lying, false), ...reading('standing', standing, true)];
}

/** Why the equation's answer is impossible and not merely close to no shunt; undefined if it is possible. */
function outOfRange(working: ShuntWorking, limits: GasLimits): string | undefined {
  if (working.fraction > 1 || Number.isNaN(working.fraction))
    return 'mixed-venous blood would hold as much oxygen as arterial blood';
  const above = working.arterialSaturation - working.endCapillarySaturation;
  if (working.fraction < 0 && above > limits.saturationAboveEndCapillary)
    return `the arterial saturation lies ${fixed(100 * above, 1)} points above the end-capillary one, so arterial blood would hold more oxygen than end-capillary blood`;
  return undefined;
}

/** Why the dissolved-only form is not valid here; undefined if it is. */
function dissolvedRefusal(fio2: Fraction, po2MmHg: MmHg, working: ShuntWorking): string | undefined {
  if (fio2 !== 1) return `FiO2 is ${fixed(fio2, 2)}: the dissolved-only form needs 100 % oxygen.`;
  const limit = c.fullSaturationPo2MmHg.value;
  if (po2MmHg >= limit) return undefined;
  const ceiling = shuntFromDissolved(
    working.alveolarPo2MmHg,
    c.mixedVenousPo2MmHg.value,
    c.assumedAvDifferenceMlDl.value,
  );
  return `PaO2 ${mmHgAndKPa(po2MmHg)} is below ${limit} mmHg: not fully saturated, and this form levels off near ${percent(ceiling, 0)}.`;
}

function stepsOf(working: ShuntWorking, barometricMmHg: MmHg): Partial<Shunt> {
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

/** The answer with the saturation that was not used, if there is one and the answer is possible. */
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

/** Answers with other arterio-venous differences; none if a mixed-venous sample settles the difference. */
function sensitivity(resolved: ResolvedSample, input: ShuntInput): Pick<Shunt, 'sensitivity'> {
  const { venous } = resolved.numbers;
  if (venous && !resolved.doubtfulVenous) return {};
  const used = venous ? undefined : resolved.numbers.avDifferenceMlDl;
  const by = (avDifferenceMlDl: MlPerDl): number =>
    rounded(Math.max(0, workShunt({ ...resolved.numbers, venous: undefined, avDifferenceMlDl }).fraction), 5);
  const rows = otherDifferences(input)
    .filter(({ mlDl }) => used === undefined || Math.abs(mlDl - used) > 1e-9)
    .map(({ mlDl, intervalMlDl, source }) => ({
      av_difference_ml_dl: rounded(mlDl, 3),
      fraction: by(mlDl),
      ...(intervalMlDl && { interval: [by(intervalMlDl[1]), by(intervalMlDl[0])] as [number, number] }),
      source,
    }));
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
      : shunt.upper_limit === undefined
        ? `gives ${percent(shunt.fraction)} (${shunt.method})`
        : `gives a shunt that cannot be told from none, at most ${percent(shunt.upper_limit)} (${shunt.method})`;
  return [
    finding(
      'note',
      'shunt-other-sample',
      'gases',
      `The sample ${shunt.sample} ${answer}; it is not the one reported.`,
    ),
  ];
}
