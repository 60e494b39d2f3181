/** Build space, overhang, time and material, cut and struts of a printed model, for gauges.md and plan.md. */
import { fixed } from '../foundation/number-text.js';
import type { Result } from '../result/result.generated.js';
import type { Citations } from './citations.js';
import { bullets, markdownText, section, sentence } from './markdown.js';

type Print = NonNullable<Result['print']>;

const box = (size: readonly number[]): string => size.map((s) => fixed(s, 1)).join('×');

/** An axis of the surfaces, used if the patient's axes are unknown. */
const sideWords = (up: string): string => (/^[+-]/.test(up) ? up : `the patient's ${up} side`);

/** Rows `what, value` with the facts that a printing shop asks for first. */
export function buildRows(print: Print): string[][] {
  const rows: string[][] = [];
  const { overhang, build_volume: space, estimate } = print;
  rows.push([
    'Printer',
    space
      ? `${box(space.inside_mm)} mm inside`
      : 'not stated in the case (print.build_volume): fit not checked',
  ]);
  for (const body of space?.bodies ?? []) {
    const turned =
      body.turned.length > 0
        ? `; fits turned by quarter turns as ${body.turned.map(box).join(' or ')} mm`
        : '; no quarter turn makes it fit';
    rows.push([
      `${markdownText(body.name)} in the printer`,
      `${box(body.size_mm)} mm ${body.fits ? 'fits as it stands' : `**does not fit as it stands**${turned}`}`,
    ]);
  }
  for (const body of print.bed ?? []) {
    const why = body.asked
      ? 'as the case asks'
      : body.on_point
        ? 'no side gives a flat foot: use a raft or supports that reach the bed'
        : body.up === 'superior' || body.up === '+z'
          ? 'the usual side'
          : 'the usual side up would stand on a point';
    rows.push([
      `${markdownText(body.name)} in model.3mf`,
      `stands with ${sideWords(body.up)} up on a flat foot of ${fixed(body.foot_mm2, 0)} mm² (${why})`,
    ]);
  }
  if (overhang) {
    const least = overhang.turned.reduce<(typeof overhang.turned)[number] | undefined>(
      (a, b) => (a && a.area_cm2 <= b.area_cm2 ? a : b),
      undefined,
    );
    const better =
      least && least.area_cm2 < overhang.area_cm2
        ? `; least with ${sideWords(least.up)} up, ${fixed(least.area_cm2, 1)} cm²`
        : '';
    rows.push([
      `Overhang with ${sideWords(overhang.up)} up`,
      overhang.below_deg === undefined
        ? 'the process carries every overhang'
        : `${fixed(overhang.area_cm2, 1)} cm² ${facing(overhang.below_deg)} and need support${better} (${overhang.source})`,
    ]);
  }
  if (estimate) {
    const range = ([low, high]: readonly number[], digits: number): string =>
      `${fixed(low, digits)} to ${fixed(high, digits)}`;
    rows.push(
      ['Volume of all bodies', `${fixed(estimate.volume_ml, 1)} mL`],
      ['Material', `${range(estimate.material_g, 0)} g (${range(estimate.material_ml, 1)} mL)`],
      ['Time in the printer', `${range(estimate.hours, 1)} hours`],
      [
        'Time and material assume',
        `${estimate.assumptions.map(markdownText).join('; ')} (${estimate.source})`,
      ],
    );
  }
  return rows;
}

/** How a cut model is assembled, and which rods are not anatomy; empty if there is neither. */
export function assemblyLines(print: Print): string[] {
  const lines: string[] = [];
  const { cut } = print;
  if (cut) {
    const halves = cut.halves.map((h) => `${h.name} (${h.side})`).join(' and ');
    lines.push(
      `Cut at ${box(cut.print_mm).replaceAll('×', ', ')} mm of the print into ${halves}; each half's tag bears its letter. Check the halves with the caliper put together.`,
    );
    if (cut.lugs)
      lines.push(`Lugs on the outside at the cut: ${cut.lugs}. They hold pegs and are not anatomy.`);
    for (const peg of cut.pegs)
      lines.push(
        `Peg on ${peg.on} at ${box(peg.print_mm).replaceAll('×', ', ')} mm of the print: ${fixed(peg.diameter_mm, 1)} mm thick, ${fixed(peg.length_mm, 1)} mm long, one side flat; its socket is wider by ${fixed(peg.fit_mm, 2)} mm on each side (common practice, no source).`,
      );
  }
  (print.struts ?? []).forEach((s, i) => {
    lines.push(
      `Rod ${i + 1} between ${s.from} and ${s.to}: ${fixed(s.diameter_mm, 1)} mm thick, ${fixed(s.length_mm, 1)} mm long. It is not anatomy.`,
    );
  });
  return lines.map((l) => sentence(l));
}

/** The section of plan.md on the printed model; empty if nothing is printed. The details are in gauges.md. */
export function printSection(result: Result, cite: Citations): string[] {
  const { print } = result;
  if (result.print_absent_because !== undefined) {
    const why = markdownText(result.print_absent_because);
    return [section(2, 'Printed model', [`**None**: ${why}.`])];
  }
  if (!print || print.parts.length === 0) return [];
  const form = print.hollow ? `Hollow, wall ${fixed(print.wall_mm ?? 0, 2)} mm` : 'Solid';
  const size = print.size_mm ? `, ${box(print.size_mm)} mm with its tag` : '';
  const lines = [
    `${form}, ${print.process ?? 'process not stated'}, scale ${String(Number(fixed(print.scale ?? 1, 4)))}${size}; ${fixed(print.gauges.length, 0)} check points for a caliper. More: print/gauges.md.`,
    ...(print.build_volume?.bodies ?? [])
      .filter(({ fits }) => !fits)
      .map(({ name }) => `**${markdownText(name)} does not fit the printer as it stands.**`),
    ...assemblyLines(print).map((line) => cite.marked(line)),
  ];
  return [section(2, 'Printed model', [bullets(lines)])];
}

/** Which faces count as overhang. */
const facing = (belowDeg: number): string =>
  belowDeg >= 90
    ? 'face down, however steeply,'
    : `face down at less than ${fixed(belowDeg, 0)} degrees from the horizontal`;
