import type { Case } from '../case/case.js';
import { listedStructures } from '../case/listed-structures.js';
import type { LesionMeasure, VesselMeasure } from '../geometry/measure.js';
import type { Result, Vessel } from '../result/result.generated.js';

type Described = NonNullable<ReturnType<typeof listedStructures>>[number];

/** The measured vessels by name, with the keys of the result. */
export function vesselResults(lesion: LesionMeasure, patientCase: Case): Result['vessels'] {
  const described = new Map((listedStructures(patientCase) ?? []).map((one) => [one.name, one]));
  const out: Result['vessels'] = {};
  for (const vessel of lesion.vessels) out[vessel.name] = vesselResult(vessel, described.get(vessel.name));
  return out;
}

function vesselResult(vessel: VesselMeasure, described: Described | undefined): Vessel {
  const { landing, neck } = vessel;
  // a vessel that joins the sac runs to its neck
  const hasLength = neck !== undefined || vessel.role === 'branch';
  return {
    role: vessel.role,
    of: described?.of,
    spare: vessel.role === 'branch' ? described?.spare : undefined,
    supplies: described?.supplies,
    arises_from: described?.arisesFrom,
    ...(hasLength && {
      length_mm: vessel.lengthMm,
      length_interval_mm: vessel.lengthIntervalMm,
      tortuosity: vessel.tortuosity,
    }),
    calibre_mm: vessel.calibreMm,
    profile: vessel.profile.map((s) => ({
      at_mm: s.atMm,
      equivalent_mm: s.equivalentMm,
      min_mm: s.minMm,
      max_mm: s.maxMm,
      area_mm2: s.areaMm2,
      ...(s.atOpening && { at_opening: true }),
    })),
    neck: neck && { at_mm: neck.atMm, point_mm: neck.pointMm, calibre_mm: neck.calibreMm },
    branches: vessel.branches.map((b) => ({
      name: b.name,
      at_mm: b.atMm,
      from_mm: b.fromMm,
      to_mm: b.toMm,
      calibre_mm: b.calibreMm,
    })),
    landing: landing && {
      from_mm: landing.fromMm,
      to_mm: landing.toMm,
      length_mm: landing.lengthMm,
      calibre_mm: landing.calibreMm,
      calibre_interval_mm: landing.calibreIntervalMm,
      largest_width_mm: landing.largestWidthMm,
      image_calibre_mm: landing.imageCalibreMm,
      image_calibre_interval_mm: landing.imageCalibreIntervalMm,
      taper_percent: landing.taperPercent,
      to_sac_mm: landing.toSacMm,
      to_branch_mm: landing.toBranchMm,
      centre_mm: landing.centreMm,
      view: landing.view && { lao_rao_deg: landing.view.laoRaoDeg, cran_caud_deg: landing.view.cranCaudDeg },
      view_absent_because: landing.viewAbsentBecause,
    },
    landing_absent_because: vessel.landingAbsentBecause,
    wall: vessel.wall && {
      offset_mm: vessel.wall.offsetMm,
      offset_interval_mm: vessel.wall.offsetIntervalMm,
      stations_used: vessel.wall.stations.length,
      stations: vessel.wall.stations.map(({ atMm, surfaceMm, imageMm }) => ({
        at_mm: atMm,
        surface_mm: surfaceMm,
        image_mm: imageMm,
      })),
    },
    centreline_mm: vessel.centrelineMm,
  };
}
