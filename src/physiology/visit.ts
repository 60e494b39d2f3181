import type { Case, GasSample } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';

/** Before or after the treatment of the lesion. */
export type Visit = 'before' | 'after';

/** The state of treatment shown by the samples and the surfaces of a case. */
export interface Visits {
  /** The samples, each with its visit, by date if it has one. */
  samples: GasSample[];
  /** The visit that headline, closure and devices depend on. */
  baseline: Visit;
  /** Set if gases and surfaces show different states; nothing is then predicted from both together. */
  apartBecause?: string;
  findings: Finding[];
}

type Dated = Pick<Case, 'gases' | 'lesion' | 'scan'> & Partial<Pick<Case, 'surfaces'>>;

/**
 * Determines from the dates of treatment, scan and samples which visit a plan depends on.
 *
 * Samples   by `on` against `lesion.treated` if both are given, else by `when`
 * Surfaces  from after treatment if the scan is on or after `lesion.treated`, or on or after a dated sample drawn after it; from before if
 *           the scan is older, or the lesion was not treated
 * Stops     if the surfaces show the treated lesion and the gases only the untreated one, or the reverse
 * Unknown   a sample from after a treatment counts only with a scan from after it: without such a date the plan depends on the time before
 *           treatment, with a caution, and predicts nothing from later gases alone
 */
export function visitsOf(patientCase: Dated): Visits {
  const { treated } = patientCase.lesion;
  const findings: Finding[] = [];
  const samples = patientCase.gases.map((sample) => byDate(sample, treated, findings));
  const arterial = samples.filter(({ site }) => site === 'arterial');
  const hasAfter = arterial.some(({ when }) => when === 'after');
  const hasBefore = arterial.some(({ when }) => when === 'before');
  const shown = surfacesShow(patientCase, samples);
  const stop = (text: string): void => {
    findings.push(finding('stop', 'treatment-states-differ', 'gases', text));
  };
  const on = treated === undefined ? '' : ` of ${treated}`;
  const scan = `The scan of ${patientCase.scan.date}`;

  if (patientCase.surfaces === undefined && hasAfter && isOlder(patientCase.scan.date, treated)) {
    const text = `${scan} is older than the treatment${on}: the plan depends on the time before it, and the gases from after it are only shown. Scan again, or correct the dates.`;
    return {
      samples,
      baseline: 'before',
      findings: [...findings, finding('caution', 'visit-assumed', 'scan.date', text)],
    };
  }
  if (shown === 'after') {
    if (hasAfter || !hasBefore) return { samples, baseline: 'after', findings };
    stop(
      `${scan} shows the lesion after the treatment${on}, the blood gases are from before it: nothing is predicted from the two together. Add a sample from after the treatment, or correct the dates.`,
    );
    const apartBecause = 'the blood gases are from before the treatment, the surfaces from after it';
    return { samples, baseline: 'before', apartBecause, findings };
  }
  if (shown === 'before') {
    if (!hasAfter) return { samples, baseline: 'before', findings };
    stop(
      `${scan} shows the lesion before the treatment${on}, the latest blood gases are from after it: the plan is that of the untreated lesion, which is no longer there. Scan again, or correct the dates.`,
    );
    if (hasBefore) return { samples, baseline: 'before', findings };
    const apartBecause = 'the blood gases are from after the treatment, the surfaces from before it';
    return { samples, baseline: 'before', apartBecause, findings };
  }
  const missing = treated === undefined ? 'lesion.treated' : 'scan.date';
  const isAfterOnly = hasAfter && !hasBefore;
  const rests = isAfterOnly
    ? 'The gases are from after it, so nothing is predicted from them'
    : 'The plan depends on the time before it';
  findings.push(
    finding(
      'caution',
      'visit-assumed',
      missing,
      `Whether the scan was made before or after the treatment is not stated: ${missing} is missing. ${rests}; a sample from after the treatment counts only with a scan from after it. Write the date.`,
    ),
  );
  const apartBecause =
    'the blood gases are from after the treatment, and no date tells whether the surfaces are too';
  return { samples, baseline: 'before', ...(isAfterOnly && { apartBecause }), findings };
}

const isOlder = (date: string | undefined, than: string | undefined): boolean =>
  date !== undefined && than !== undefined && date < than;

/** The state that the surfaces show; undefined if the lesion was treated and no date decides. */
function surfacesShow(patientCase: Dated, samples: readonly GasSample[]): Visit | undefined {
  const { treated } = patientCase.lesion;
  const { date } = patientCase.scan;
  const after = samples.filter(({ when, site }) => when === 'after' && site === 'arterial');
  if (treated === undefined && after.length === 0) return 'before';
  // Without surfaces nothing can contradict the gases.
  if (patientCase.surfaces === undefined) return after.length > 0 ? 'after' : 'before';
  if (date === undefined) return undefined;
  if (treated !== undefined) return date >= treated ? 'after' : 'before';
  if (after.some(({ on }) => on !== undefined && date >= on)) return 'after';
  if (samples.some(({ when, on }) => when === 'before' && on !== undefined && date <= on)) return 'before';
  return undefined;
}

/** The sample with the visit by its date; a contradiction with `when` gives a finding. */
function byDate(sample: GasSample, treated: string | undefined, findings: Finding[]): GasSample {
  const { on, when } = sample;
  if (on === undefined || treated === undefined || on === treated) return sample;
  const dated: Visit = on > treated ? 'after' : 'before';
  if (dated === when) return sample;
  findings.push(
    finding(
      'caution',
      'gas-visit-by-date',
      `${sample.path}.on`,
      `The sample ${sample.name} says when: ${when}, but ${on} is ${dated} the treatment of ${treated}: the date counts. Correct one.`,
    ),
  );
  return { ...sample, when: dated };
}
