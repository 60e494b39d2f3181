import { dottedPath } from '../foundation/dotted-path.js';
import { fixed, rangeText } from '../foundation/number-text.js';
import type { Device, Result, Vessel } from '../result/result.generated.js';

/** The parts of a result that reasons come from; a patient's result has some of them. */
export type Explained = Pick<Result, 'checklist' | 'devices' | 'sac' | 'shunt' | 'shunt_after' | 'vessels'> &
  Partial<Pick<Result, 'lesion' | 'readiness' | 'resection'>>;

/**
 * Why the result has its value at a path, in one or two sentences from the result; undefined if it gives no reason. `answered` is the
 * trainee's answer: a device code that was rejected gets the reason for its rejection.
 */
export function explain(result: Explained, path: string, answered?: string): string | undefined {
  const [group, ...names] = dottedPath(path).split('.');
  switch (group) {
    case 'vessels':
      return ofNamed(result.vessels, names, (name, vessel) =>
        vesselReason(name, vessel, names.includes('landing')),
      );
    case 'devices':
      return ofNamed(result.devices, names, (_, device) => deviceReason(device, answered));
    case 'shunt':
    case 'shunt_after':
      return shuntReason(result[group]);
    case 'lesion':
      return result.lesion?.kind_because && `${capital(result.lesion.kind_because)}.`;
    case 'sac':
      return sacReason(result.sac);
    case 'readiness':
      return result.readiness?.because.join(' ');
    case 'closure_order':
      return 'Feeders in order of what closing each alone takes off the shunt, the largest share first.';
    case 'checklist':
      return result.checklist.find(({ id }) => id === names[0])?.because;
    case 'resection':
      return result.resection?.absent_because ?? result.resection?.predicted_because;
  }
  return undefined;
}

const capital = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1).replace(/\.$/, '');

/** The entry whose name is the longest prefix of `names`: names of vessels may contain dots. */
function ofNamed<T>(
  map: Readonly<Record<string, T>>,
  names: readonly string[],
  say: (name: string, entry: T) => string | undefined,
): string | undefined {
  for (let count = names.length; count > 0; count--) {
    const name = names.slice(0, count).join('.');
    if (Object.hasOwn(map, name)) return say(name, map[name]);
  }
  return undefined;
}

function vesselReason(name: string, vessel: Vessel, landing: boolean): string {
  const zone = vessel.landing;
  if (!landing || zone === undefined) {
    const why =
      landing && vessel.landing_absent_because ? ` No landing zone: ${vessel.landing_absent_because}.` : '';
    const { min, max } = vessel.calibre_mm;
    const long = vessel.length_mm === undefined ? 'has no neck' : `is ${fixed(vessel.length_mm, 1)} mm long`;
    return `${name} ${long}, its calibre ${rangeText([min, max], 1, 'mm')}.${why}`;
  }
  const end = zone.to_branch_mm === undefined ? 'the far end' : 'the edge of the last branch';
  return [
    `The landing zone of ${name} begins ${fixed(zone.to_sac_mm, 1)} mm from the sac and reaches ${fixed(zone.length_mm, 1)} mm away from it, towards ${end};`,
    `its mean calibre is ${fixed(zone.calibre_mm, 2)} mm (95 % ${rangeText(zone.calibre_interval_mm, 2, 'mm')}).`,
  ].join(' ');
}

function deviceReason(device: Device, answered: string | undefined): string | undefined {
  const rejected = device.rejected.find(({ code }) => code === answered);
  const alternate = device.alternates.find(({ code }) => code === answered);
  const parts = [
    device.window_mm && `The window is ${rangeText(device.window_mm, 1, 'mm')}.`,
    rejected && `${rejected.code} was rejected: ${rejected.why.replace(/\.$/, '')}.`,
    alternate && `${alternate.code} is an alternate (${fixed(alternate.oversize_percent, 0)} % oversize).`,
    device.absent_because && `No device: ${device.absent_because.replace(/\.$/, '')}.`,
    device.rule && `Rule ${device.rule}${device.rule_source ? ` (${device.rule_source})` : ''}.`,
    device.borderline_because && `Borderline: ${device.borderline_because.replace(/\.$/, '')}.`,
  ];
  return parts.filter(Boolean).join(' ') || undefined;
}

function shuntReason(shunt: Result['shunt']): string | undefined {
  if (shunt === undefined) return undefined;
  if (shunt.absent_because !== undefined) return `Not computed: ${shunt.absent_because.replace(/\.$/, '')}.`;
  const contents = [
    ['end-capillary', shunt.end_capillary_content_ml_dl],
    ['arterial', shunt.arterial_content_ml_dl],
    ['mixed-venous', shunt.venous_content_ml_dl],
  ] as const;
  const known = contents.flatMap(([name, value]) =>
    value === undefined ? [] : `${name} ${fixed(value, 2)}`,
  );
  const assumed = shunt.assumed.length > 0 ? ` Assumed: ${shunt.assumed.join('; ')}.` : '';
  return `Method: ${shunt.method}. Oxygen contents, mL/dL: ${known.join(', ') || 'not given'}.${assumed}`;
}

function sacReason(sac: Result['sac']): string | undefined {
  if (sac === undefined) return 'No sac was measured.';
  const axes = sac.axes_mm.map((a) => fixed(a, 1)).join(' x ');
  return `The sac measures ${axes} mm; an ellipsoid of these axes holds pi/6 times their product.`;
}
