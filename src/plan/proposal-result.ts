import type { FromScan } from '../case/case.js';
import { type Finding, finding } from '../foundation/finding.js';
import { fixed, pointText } from '../foundation/number-text.js';
import type { Vec3 } from '../foundation/vector.js';
import type { Proposal } from '../proposal/proposal.js';
import { UNSURE_WORDS } from '../result/proposal.js';
import type { Result } from '../result/result.generated.js';
import { numberOf, type Rules } from '../rules/rule.js';

type ProposalResult = NonNullable<Result['proposal']>;
type Confirmation = Pick<ProposalResult, 'confirmed' | 'confirmed_by' | 'not_confirmed_because'>;

/** Greatest number of stretches named in a finding; the result lists all. */
const MOST_NAMED = 5;

/**
 * The part of a result on a surface made from the scan, with its findings. `sha256` is that of the surface as written; `toCase` maps LPS
 * to the axes of the case.
 */
export function proposalResult(
  { endsMm, unsure, unsureShare, touching, thrombus, report }: Proposal,
  fromScan: FromScan,
  sha256: string,
  toCase: (p: Vec3) => Vec3,
  rules: Pick<Rules, 'byId'>,
): { result: ProposalResult; findings: Finding[] } {
  const { confirmation, finding: confirmed } = confirmationOf(fromScan, sha256);
  const result: ProposalResult = {
    ...confirmation,
    surface_sha256: sha256,
    unsure_percent: 100 * unsureShare,
    unsure: unsure
      .map(({ kind, near, atMm, lengthMm, share }) => ({
        kind,
        near,
        point_mm: toCase(atMm),
        length_mm: lengthMm,
        share_percent: 100 * share,
      }))
      .sort((a, b) => b.share_percent - a.share_percent),
    ends: endsMm.map(({ name, at, calibreMm, lumenHu, levelHu }) => ({
      name,
      point_mm: toCase(at),
      ...(Number.isFinite(calibreMm) && { calibre_mm: calibreMm }),
      ...(Number.isFinite(lumenHu) && { lumen_hu: lumenHu }),
      ...(Number.isFinite(levelHu) && { level_hu: levelHu }),
    })),
    touching: touching.map(({ at, of, contactMm }) => ({ of, point_mm: toCase(at), contact_mm: contactMm })),
    ...(thrombus && { thrombus: { volume_ml: thrombus.volumeMl, point_mm: toCase(thrombus.at) } }),
    steps: report.map(({ stage, text }) => ({ stage, text })),
  };
  return {
    result,
    findings: [...confirmed, ...unsureFinding(result, fromScan, rules), ...besideFindings(result, fromScan)],
  };
}

/** Whether a reader has confirmed exactly this surface. */
function confirmationOf(
  { confirmedBy, confirmedSurface, path }: FromScan,
  sha256: string,
): { confirmation: Confirmation; finding: Finding[] } {
  const notConfirmed = (because: string, todo: string) => {
    const text = `Proposal, not confirmed: the surface was made from the scan, and ${because}. Check it against the slices, along each vessel from end to end; then ${todo}.`;
    return {
      confirmation: {
        confirmed: 'no' as const,
        ...(confirmedBy !== undefined && { confirmed_by: confirmedBy }),
        not_confirmed_because: because,
      },
      finding: [finding('stop', 'surface-not-confirmed', path, text)],
    };
  };
  if (confirmedBy === undefined)
    return notConfirmed(
      'no reader has confirmed it',
      `write confirmed_by with your name, and confirmed_surface: ${sha256}`,
    );
  const confirmation = { confirmed: 'yes' as const, confirmed_by: confirmedBy };
  if (confirmedSurface === sha256) return { confirmation, finding: [] };
  if (confirmedSurface !== undefined)
    return notConfirmed(
      `${confirmedBy} confirmed another one: the case names ${confirmedSurface}, this surface is ${sha256}`,
      'write its hash as confirmed_surface',
    );
  const text = `${confirmedBy} confirmed the surface, and the case does not say which: another one, from other points or another version of this program, would count as confirmed too. If this is the one that was checked, write confirmed_surface: ${sha256}.`;
  return { confirmation, finding: [finding('caution', 'confirmed-surface-not-named', path, text)] };
}

const placed = (p: readonly number[]): string => `${pointText(p)} mm`;

/** The stretches where the wall is unsure, the largest first. */
function unsureFinding(
  { unsure, unsure_percent }: ProposalResult,
  { path }: FromScan,
  rules: Pick<Rules, 'byId'>,
): Finding[] {
  if (unsure.length === 0) return [];
  const named = unsure.slice(0, MOST_NAMED);
  const places = named.map(
    ({ near, kind, length_mm, point_mm }) =>
      `${near}, ${UNSURE_WORDS[kind]}, ${fixed(length_mm, 0)} mm about ${placed(point_mm)}`,
  );
  if (unsure.length > named.length) places.push(`${unsure.length - named.length} more in surfaces/report.md`);
  const text = `The wall is unsure on ${fixed(unsure_percent, 1)} % of the surface: ${places.join('; ')}. Look at these places on the slices.`;
  const isMuch = unsure_percent >= numberOf(rules, 'proposal-unsure');
  return [finding(isMuch ? 'caution' : 'note', 'surface-unsure', path, text)];
}

/** Vessels that touch the lesion and were separated from it, and the part of the sac that the surface leaves out. */
function besideFindings({ touching, thrombus }: ProposalResult, { path }: FromScan): Finding[] {
  const found: Finding[] = touching.map(({ of, point_mm, contact_mm }) =>
    finding(
      'caution',
      'neighbour-parted',
      of,
      `Another vessel touches ${of} at ${placed(point_mm)} over ${fixed(contact_mm, 1)} mm and was separated from it at the narrowest place. Look there on the slices: if both are one, name its far end too.`,
    ),
  );
  if (thrombus)
    found.push(
      finding(
        'caution',
        'thrombus-apart',
        path,
        `About ${fixed(thrombus.volume_ml, 1)} mL beside the opacified sac, at ${placed(thrombus.point_mm)}, looks like a part of it without contrast agent. The surface leaves it out; it is written separately as surfaces/thrombus.stl.`,
      ),
    );
  return found;
}
