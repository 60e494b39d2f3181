/**
 * Makes SVG file names from stems that are already file-safe (`slug`). Names differ even when case is ignored: a
 * second `calibre-A1` becomes `calibre-A1-2`.
 */
export function fileNamer(): (stem: string) => string {
  const taken = new Set<string>();
  return (stem) => {
    let name = stem;
    for (let n = 2; taken.has(name.toLowerCase()); n++) name = `${stem}-${n}`;
    taken.add(name.toLowerCase());
    return `${name}.svg`;
  };
}
