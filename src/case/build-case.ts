import { isAbsolute, relative, resolve } from 'node:path';
import { tenTo } from '../foundation/power.js';
import { convert, type UnitOf } from '../foundation/units.js';
import type { Vec3 } from '../foundation/vector.js';
import {
  AT_HAND_ITEMS,
  type Bleeding,
  type Case,
  type Expectation,
  type GasSample,
  type InputPath,
  type LabelPart,
  type Lobe,
  type Part,
  type PartRole,
  type PatientDirection,
  type PrintCut,
  type Surfaces,
  type VesselEnd,
} from './case.js';
import { inspiredFraction } from './check-patient.js';
import { parentOf, structurePaths } from './check-surfaces.js';
import type { FileReader } from './file-reader.js';
import { isAbsolutePath, slashed } from './path-text.js';

/** A path in the file as an input: shown relative to `folder`, read from `folder`. Only text is processed; nothing is opened. */
export function inputPath(written: string, folder: string): InputPath {
  const path = slashed(written);
  if (!isAbsolutePath(path))
    return { relative: path, absolute: isAbsolute(folder) ? resolve(folder, path) : path };
  const shown = isAbsolute(folder) ? slashed(relative(folder, path)) : path;
  return { relative: shown === '' ? '.' : shown, absolute: path };
}

/** The input that the value at a path of the file names; undefined if there is none or it is wrong. */
export type InputAt = (path: string) => InputPath | undefined;

/** Returns the same `InputPath` for the same path every time, so that its users know where it was found. */
export function inputFinder(reader: FileReader, folder: string): InputAt {
  const known = new Map<string, InputPath>();
  return (path) => {
    const text = reader.text(path);
    if (text === undefined) return undefined;
    const input = known.get(path) ?? inputPath(text, folder);
    known.set(path, input);
    return input;
  };
}

/**
 * Builds a Case from a checked file. Call only if no problem was noted. With `surfaces: false`, problems may be anywhere; wrong values and
 * the surfaces are left out.
 */
export function buildCase(
  reader: FileReader,
  input: InputAt,
  locate: (path: string) => string,
  { surfaces = true } = {},
): Case {
  return {
    id: reader.text('id') as string,
    title: reader.text('title'),
    purpose: reader.word<Case['purpose']>('purpose') ?? 'clinical',
    scan: {
      date: reader.text('scan.date'),
      sliceThicknessMm: reader.quantity('scan.slice_thickness'),
      inPlaneMm: reader.quantity('scan.in_plane'),
      series: input('scan.series'),
      seriesNumber: reader.number('scan.series_number'),
      written: {
        sliceThickness: writtenLength(reader, 'scan.slice_thickness'),
        inPlane: writtenLength(reader, 'scan.in_plane'),
      },
    },
    patient: buildPatient(reader),
    blood: {
      haemoglobinGDl: reader.quantity('blood.haemoglobin'),
      haematocritFraction: reader.quantity('blood.haematocrit'),
      ferritinUgL: reader.quantity('blood.ferritin'),
      transferrinSaturationFraction: reader.quantity('blood.transferrin_saturation'),
    },
    gases: reader.items('gases').map((path, i) => buildSample(reader, path, i)),
    circulation: {
      cardiacOutputLMin: reader.quantity('circulation.cardiac_output'),
      cardiacOutputMethod: reader.word('circulation.cardiac_output_method'),
      meanPaPressureMmHg: reader.quantity('circulation.mean_pa_pressure'),
      wedgePressureMmHg: reader.quantity('circulation.wedge_pressure'),
      oxygenUptakeMlMin: reader.quantity('circulation.oxygen_uptake'),
      oxygenUptakeMethod: reader.word('circulation.oxygen_uptake_method'),
    },
    lesion: {
      side: reader.word<'left' | 'right'>('lesion.side'),
      lobe: reader.word<Lobe>('lesion.lobe'),
      segments: reader.texts('lesion.segments'),
      kind: reader.word<'simple' | 'complex' | 'diffuse'>('lesion.kind'),
      treated: reader.text('lesion.treated'),
      otherLesions: reader.yesNo('lesion.other_lesions'),
    },
    surfaces: surfaces && reader.has('surfaces') ? buildSurfaces(reader, input) : undefined,
    shelf: input('shelf'),
    planned: {
      date: reader.text('planned.date'),
      approach: reader.word<Case['planned']['approach']>('planned.approach') ?? 'auto',
      session: reader.has('planned.session') ? buildSession(reader) : undefined,
    },
    surgery: {
      oneLungVentilation: reader.yesNo('surgery.one_lung_ventilation'),
      leakTest: buildLeakTest(reader),
      extent: reader.word('surgery.extent'),
      segments: optionalTexts(reader, 'surgery.segments'),
      obstructedSegments: optionalTexts(reader, 'surgery.obstructed_segments'),
    },
    bleeding: reader.has('bleeding') ? buildBleeding(reader) : undefined,
    team: reader.has('team')
      ? reader
          .entries('team')
          .map(({ key, path }) => ({ role: key, contact: reader.written(path) as string }))
      : undefined,
    atHand: Object.fromEntries(AT_HAND_ITEMS.map((item) => [item, reader.yesNo(`at_hand.${item}`)])),
    print: buildPrint(reader),
    expected: reader.items('expected').map((path) => buildExpectation(reader, path)),
    locate,
  };
}

/** A length as written, with half a unit of its last digit. */
function writtenLength(reader: FileReader, path: string): { text: string; roundingMm: number } | undefined {
  const text = reader.text(path);
  if (text === undefined || reader.quantity(path) === undefined) return undefined;
  const decimals = /\.(\d+)/.exec(text)?.[1].length ?? 0;
  const unit = reader.writtenUnit(path) as UnitOf<'length'>;
  return { text, roundingMm: convert(0.5 * tenTo(-decimals), 'length', unit, 'mm') };
}

const optionalTexts = (reader: FileReader, path: string): string[] | undefined =>
  reader.has(path) ? reader.texts(path) : undefined;

function buildSession(reader: FileReader): Case['planned']['session'] {
  const path = 'planned.session';
  return {
    contrastLimitMl: reader.quantity(`${path}.contrast_limit`),
    oneLung: reader.has(`${path}.one_lung`) ? reader.yesNo(`${path}.one_lung`) === 'yes' : undefined,
    mostFeeders: reader.number(`${path}.most_feeders`),
    gapDays: reader.quantity(`${path}.gap`),
  };
}

function buildBleeding(reader: FileReader): Bleeding {
  return {
    now: reader.yesNo('bleeding.now'),
    within24h: reader.yesNo('bleeding.within_24_h'),
    stable: reader.yesNo('bleeding.stable'),
    into: reader.word('bleeding.into'),
    on: reader.text('bleeding.on'),
  };
}

function buildAnticoagulant(reader: FileReader): Case['patient']['anticoagulant'] {
  const path = 'patient.anticoagulant';
  if (!reader.has(path)) return undefined;
  return {
    agent: reader.written(`${path}.agent`),
    dose: reader.written(`${path}.dose`),
    lastDose: reader.text(`${path}.last_dose`),
  };
}

function buildPatient(reader: FileReader): Case['patient'] {
  const at = (key: string): string => `patient.${key}`;
  return {
    ageYears: reader.quantity(at('age')),
    sex: reader.word<NonNullable<Case['patient']['sex']>>(at('sex')),
    weightKg: reader.quantity(at('weight')),
    heightCm: reader.quantity(at('height')),
    pregnant: reader.yesNo(at('pregnant')),
    gestationWeeks: reader.quantity(at('gestation')),
    history: reader.texts(at('history')),
    hht: {
      epistaxis: reader.yesNo(at('hht.epistaxis')),
      telangiectasia: reader.yesNo(at('hht.telangiectasia')),
      visceralLesion: reader.yesNo(at('hht.visceral_lesion')),
      firstDegreeRelative: reader.yesNo(at('hht.first_degree_relative')),
    },
    allergies: reader.has(at('allergies')) ? reader.texts(at('allergies')) : undefined,
    anticoagulated:
      reader.yesNo(at('anticoagulated')) ?? (reader.has(at('anticoagulant')) ? 'yes' : undefined),
    anticoagulant: buildAnticoagulant(reader),
    bloodGroup: reader.written(at('blood_group')),
    oximetry: reader.has(at('oximetry'))
      ? {
          lyingFraction: reader.quantity(at('oximetry.lying')),
          standingFraction: reader.quantity(at('oximetry.standing')),
        }
      : undefined,
    heartRatePerMin: reader.quantity(at('heart_rate')),
    creatinineUmolL: reader.quantity(at('creatinine')),
    egfrMlMin173: reader.quantity(at('egfr')),
    spirometry: {
      fev1L: reader.quantity(at('spirometry.fev1')),
      fev1Percent: reader.quantity(at('spirometry.fev1_percent')),
      dlcoPercent: reader.quantity(at('spirometry.dlco_percent')),
    },
  };
}

function buildSample(reader: FileReader, path: string, index: number): GasSample {
  const pressure = reader.quantity(`${path}.pressure`);
  return {
    name: reader.text(`${path}.name`) ?? `sample-${index + 1}`,
    when: reader.word<GasSample['when']>(`${path}.when`) ?? 'before',
    on: reader.text(`${path}.on`),
    fio2: inspiredFraction(reader, path),
    minutesOnOxygen: reader.quantity(`${path}.minutes_on_oxygen`),
    site: reader.word<GasSample['site']>(`${path}.site`) ?? 'arterial',
    po2MmHg: reader.quantity(`${path}.po2`),
    pco2MmHg: reader.quantity(`${path}.pco2`),
    ph: reader.number(`${path}.ph`),
    so2Fraction: reader.quantity(`${path}.so2`),
    temperatureC: reader.quantity(`${path}.temperature`),
    altitudeM: pressure === undefined ? reader.quantity(`${path}.altitude`) : undefined,
    barometricMmHg: pressure,
    path,
  };
}

function buildSurfaces(reader: FileReader, input: InputAt): Surfaces {
  const unit = reader.word<Surfaces['unit']>('surfaces.unit') ?? 'mm';
  const all = structurePaths(reader);
  const common = (path: string) => ({
    name: reader.text(`${path}.name`) as string,
    of: parentOf(reader, path, all),
    spare: reader.yesNo(`${path}.spare`) === 'yes',
    supplies: reader.text(`${path}.supplies`),
    arisesFrom: reader.text(`${path}.arises_from`),
    path,
  });
  const file = (path: string): InputPath => input(path) as InputPath;
  const role = (path: string): PartRole => reader.word<PartRole>(`${path}.role`) as PartRole;
  const surfaces: Surfaces = {
    unit,
    unitMm: convert(1, 'length', unit, 'mm'),
    frame:
      reader.word<Surfaces['frame']>('surfaces.frame') ??
      (reader.has('surfaces.from_scan') ? 'LPS' : 'unknown'),
    mendMm: reader.quantity('surfaces.mend'),
    dropBelowMm3: reader.quantity('surfaces.drop_below'),
  };
  if (reader.has('surfaces.parts')) {
    surfaces.parts = reader.items('surfaces.parts').map(
      (path): Part => ({
        ...common(path),
        role: role(path),
        mesh: file(`${path}.mesh`),
        object: reader.text(`${path}.object`),
      }),
    );
  }
  const ends = (list: string): VesselEnd[] =>
    reader.items(list).map((path) => ({
      ...common(path),
      role: role(path) as VesselEnd['role'],
      at: point(reader, `${path}.at`),
    }));
  if (reader.has('surfaces.whole')) {
    surfaces.whole = {
      mesh: file('surfaces.whole.mesh'),
      ends: ends('surfaces.whole.ends'),
      sac: reader.has('surfaces.whole.sac') ? point(reader, 'surfaces.whole.sac') : undefined,
      path: 'surfaces.whole',
    };
  }
  if (reader.has('surfaces.labels')) {
    surfaces.labels = {
      file: file('surfaces.labels.file'),
      parts: reader.items('surfaces.labels.parts').map(
        (path): LabelPart => ({
          ...common(path),
          role: role(path),
          label: reader.number(`${path}.label`) ?? (reader.text(`${path}.label`) as string),
        }),
      ),
      path: 'surfaces.labels',
    };
  }
  if (reader.has('surfaces.from_scan')) {
    surfaces.fromScan = {
      ends: ends('surfaces.from_scan.ends'),
      sac: point(reader, 'surfaces.from_scan.sac'),
      confirmedBy: reader.text('surfaces.from_scan.confirmed_by'),
      confirmedSurface: reader.text('surfaces.from_scan.confirmed_surface')?.toLowerCase(),
      path: 'surfaces.from_scan',
    };
  }
  return surfaces;
}

function point(reader: FileReader, path: string): Vec3 {
  const [x, y, z] = reader.items(path).map((item) => reader.number(item) as number);
  return [x, y, z];
}

function buildLeakTest(reader: FileReader): Case['surgery']['leakTest'] {
  const path = 'surgery.leak_test';
  const cmH2O = reader.quantity(path);
  return cmH2O === undefined ? undefined : { cmH2O, asWritten: reader.source(path) as string };
}

function buildPrint(reader: FileReader): Case['print'] {
  const volume = reader.items('print.build_volume').map((item) => reader.quantity(item) as number);
  return {
    scale: reader.number('print.scale') ?? 1,
    process: reader.word<NonNullable<Case['print']['process']>>('print.process'),
    wallMm: reader.quantity('print.wall'),
    hollow: reader.yesNo('print.hollow') === 'yes',
    cut: buildCut(reader),
    struts:
      reader.text('print.struts') === 'auto'
        ? 'auto'
        : (reader.yesNo('print.struts') as 'yes' | 'no' | undefined),
    buildVolumeMm: volume.length === 3 ? (volume as Vec3) : undefined,
    buildUp: reader.word<PatientDirection>('print.build_up'),
  };
}

function buildCut(reader: FileReader): PrintCut | undefined {
  const at = (key: string): string => `print.cut.${key}`;
  if (reader.has(at('neck'))) return { by: 'neck', vessel: reader.text(at('neck')) as string };
  if (reader.has(at('axis')))
    return {
      by: 'axis',
      axis: reader.word<PatientDirection>(at('axis')) as PatientDirection,
      atMm: reader.quantity(at('at')) as number,
    };
  if (!reader.has(at('point'))) return undefined;
  const unit = reader.word<Surfaces['unit']>('surfaces.unit') ?? 'mm';
  const [x, y, z] = point(reader, at('point')).map((c) => convert(c, 'length', unit, 'mm'));
  return { by: 'plane', pointMm: [x, y, z], normal: point(reader, at('normal')) };
}

function buildExpectation(reader: FileReader, path: string): Expectation {
  const present = reader.yesNo(`${path}.present`);
  const finding = reader.text(`${path}.finding`);
  const equals =
    reader.number(`${path}.equals`) ?? reader.text(`${path}.equals`) ?? reader.boolean(`${path}.equals`);
  return {
    value: reader.text(`${path}.value`),
    finding,
    equals,
    within: reader.number(`${path}.within`),
    present: finding === undefined ? undefined : present !== 'no',
    path,
  };
}
