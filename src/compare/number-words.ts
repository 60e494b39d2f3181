import { listed } from '../foundation/list-text.js';

/** Names in documents for the keys of single values of a result, without their group. */
const LEAVES: Readonly<Record<string, string>> = {
  volume_ml: 'volume',
  surface_cm2: 'surface',
  longest_mm: 'longest diameter',
  length_mm: 'length',
  tortuosity: 'tortuosity',
  at_mm: 'distance from the far end',
  from_mm: 'beginning, from the far end',
  to_mm: 'end, from the far end',
  calibre_mm: 'calibre',
  largest_width_mm: 'largest width',
  taper_percent: 'taper',
  to_sac_mm: 'distance to the sac',
  to_branch_mm: 'distance to the last branch',
  lao_rao_deg: 'LAO (+) or RAO (-)',
  cran_caud_deg: 'cranial (+) or caudal (-)',
  distance_mm: 'least distance',
  fraction: 'share of the output',
  change: '',
  shunt_fraction: 'shunt',
  share: 'share of the shunt',
  flow_l_min: 'flow',
  alveolar_po2_mmhg: 'alveolar PO2',
  barometric_mmhg: 'barometric pressure',
  arterial_saturation_percent: 'arterial saturation',
  end_capillary_content_ml_dl: 'end-capillary oxygen content',
  arterial_content_ml_dl: 'arterial oxygen content',
  venous_content_ml_dl: 'mixed-venous oxygen content',
  av_difference_ml_dl: 'arterio-venous difference',
  so2_room_air_percent: 'saturation on room air',
  so2_on_oxygen_percent: 'saturation on oxygen',
  mean_pa_pressure_mmhg: 'mean PA pressure',
  cardiac_output_l_min: 'cardiac output',
  diameter_mm: 'diameter',
  count: 'pieces',
  oversize_percent: 'oversize',
  needs_lumen_mm: 'lumen needed',
  density_percent: 'density',
  cmh2o: 'pressure',
  mmhg: 'pressure',
  predicted_fev1_l: 'FEV1 after resection',
  predicted_fev1_percent: 'FEV1 after resection, of predicted',
  predicted_dlco_percent: 'DLCO after resection, of predicted',
  to_division_mm: 'distance to the division',
  occlusion_percent: 'occlusion',
  feeder_count: 'number of feeding arteries',
  drain_count: 'number of draining veins',
};

/** Names of groups and lists; those that need no name are left out. */
const GROUPS: Readonly<Record<string, string>> = {
  lesion: '',
  sac: 'sac',
  landing: 'landing zone',
  view: 'working view',
  neck: 'neck',
  shunt: 'shunt before treatment',
  shunt_after: 'shunt after treatment',
  shunt_change: 'change of the shunt',
  dissolved_only: 'from dissolved oxygen alone',
  other_saturation: 'with the other saturation',
  packing: 'packing',
  leak_test: 'leak test',
  resection: 'plan B',
  print: 'print',
};

/** Keys that name the entry after them. */
const NAMED: Readonly<Record<string, (name: string) => string>> = {
  branches: (name) => `branch ${name}`,
  closure: closureWords,
  devices: (name) => `device for ${name}`,
  spare: (name) => `branch ${name}`,
  alternates: (name) => `alternate ${name}`,
  remaining: (name) => `what is left in ${name}`,
  neighbours: (name) => `between ${name}`,
  vessels: (name) => name,
};

const CALIBRES: Readonly<Record<string, string>> = {
  min: 'smallest calibre',
  mean: 'mean calibre',
  max: 'largest calibre',
};
const AXES = ['longest axis', 'middle axis', 'shortest axis'];
const WINDOW = ['smallest diameter asked for', 'largest diameter asked for'];

/**
 * The words for a number of a result by the labels on its path, for example `A1, landing zone: calibre`. A key without an entry is
 * printed as it is, without its unit.
 */
export function numberWords(labels: readonly string[]): string {
  const places: string[] = [];
  let leaf: string | undefined;
  for (let i = 0; i < labels.length; i++) {
    const [key, next] = [labels[i], labels[i + 1]];
    const isLast = i === labels.length - 1;
    if (key === 'calibre_mm' && next !== undefined && Object.hasOwn(CALIBRES, next)) leaf = CALIBRES[next];
    else if (key === 'axes_mm' && next !== undefined) leaf = AXES[Number(next)] ?? plain(key);
    else if (key === 'window_mm' && next !== undefined) leaf = WINDOW[Number(next)] ?? plain(key);
    else if (next !== undefined && Object.hasOwn(NAMED, key)) {
      places.push(NAMED[key](next));
      i++;
      continue;
    } else if (!isLast) {
      places.push(Object.hasOwn(GROUPS, key) ? GROUPS[key] : plain(key));
      continue;
    } else leaf = Object.hasOwn(LEAVES, key) ? LEAVES[key] : plain(key);
    break;
  }
  const where = places.filter((text) => text !== '').join(', ');
  return [where, leaf].filter((text) => text).join(': ');
}

/** `after closing A1 and A2`, from the label of a closure. */
function closureWords(label: string): string {
  const [set, occlusion] = label.split('@');
  const what = set === 'lobe' ? 'after removing the lobe' : `after closing ${listed(set.split('+'))}`;
  return occlusion === undefined ? what : `${what} to ${occlusion.replace('%', ' %')}`;
}

const UNIT = /_(mm|mm2|cm2|ml|percent|deg|mmhg|ml_dl|l_min|l|g|g_cm3)$/;
const plain = (key: string): string => key.replace(UNIT, '').replaceAll('_', ' ');

/** Whether a number is a fraction that documents print in percent. */
export const isShare = (path: string): boolean =>
  /(^|\.)(fraction|shunt_fraction|share|upper_limit|shunt_change\.change)$/.test(path);
