/**
 * Makes SVG file names of stems that are file-safe already (`slug`). Names differ even where case does not count: a
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
