/** One option of a command: its flag and what it does. */
export interface OptionSpec {
  flag: string;
  text: string;
}

/** One command: everything `--help` and the dispatcher need, and its module (loaded only when it runs). */
export interface CommandSpec {
  name: string;
  /** Arguments in the notation of commander. */
  args: string;
  summary: string;
  example: string;
  options: OptionSpec[];
  load: () => Promise<{
    run(args: string[], options: never, terminal: import('./terminal/terminal.js').Terminal): Promise<number>;
  }>;
}

const JSON_OUT: OptionSpec = { flag: '--json', text: 'machine-readable output on stdout' };
const ROOT: OptionSpec = {
  flag: '--root <dir>',
  text: 'folder that may hold inputs outside the case folder',
};
const SAC: OptionSpec = {
  flag: '--sac <x,y,z>',
  text: 'a point inside the sac, unit of the mesh: only vessels about it count, cut where they leave its reach',
};
const REACH: OptionSpec = {
  flag: '--reach <length>',
  text: 'that reach about the sac (default 40 mm)',
};
const RULES: OptionSpec = {
  flag: '--rules <dir>',
  text: "folder of the hospital's own rule files, applied over the built-in ones",
};
const TODAY: OptionSpec = {
  flag: '--today <date>',
  text: "ISO date that lead times count from (else the shelf's as_of, else the scan date)",
};

export const COMMANDS: readonly CommandSpec[] = [
  {
    name: 'plan',
    args: '<case>',
    summary: 'measure a case and write its plan, checklist, figures and results',
    example: 'pavm plan cases/heron',
    options: [
      { flag: '--out <dir>', text: 'where to write (default: plan/ beside the case file)' },
      TODAY,
      ROOT,
      RULES,
      { flag: '--html', text: 'also write plan.html: plan and checklist as one printable page' },
      { flag: '--timings', text: 'show on stderr the time and memory of each stage' },
      { flag: '--json', text: 'also print result.json on stdout' },
    ],
    load: () => import('./commands/plan.js'),
  },
  {
    name: 'new',
    args: '<dir>',
    summary: 'write a commented case file from the meshes, or the CT series, found in a folder',
    example: 'pavm new my-case',
    options: [
      { flag: '--force', text: 'replace a case file that is already there' },
      { flag: '--patient', text: 'write patient.yaml from the case folders in the folder, one per lesion' },
      SAC,
      REACH,
    ],
    load: () => import('./commands/new.js'),
  },
  {
    name: 'check',
    args: '<case...>',
    summary: 'validate case files and their inputs; computes nothing heavy',
    example: 'pavm check cases/*',
    options: [JSON_OUT, ROOT, RULES],
    load: () => import('./commands/check.js'),
  },
  {
    name: 'inspect',
    args: '<file>',
    summary: 'say what a mesh, label map, image folder or encapsulated model holds',
    example: 'pavm inspect meshes/sac.stl --unit mm',
    options: [
      { flag: '--unit <unit>', text: 'unit of the coordinates: mm, cm, m or inch' },
      { flag: '--capped', text: 'close planar open ends before the volume is taken' },
      {
        flag: '--near <x,y,z>',
        text: 'a place in a CT series, mm, patient axes of DICOM (LPS): lists the opacified vessels near it',
      },
      {
        flag: '--sac <x,y,z>',
        text: 'a point inside the sac: of a CT series (mm, LPS) lists the vessels that join it; of a mesh only vessels about it count, cut where they leave its reach',
      },
      { flag: '--reach <length>', text: 'that reach about the place (default 40 mm)' },
      { flag: '--out <file.svg>', text: 'write a picture of that place of a CT series, with coordinates' },
      JSON_OUT,
    ],
    load: () => import('./commands/inspect.js'),
  },
  {
    name: 'shunt',
    args: '[case]',
    summary: 'right-to-left shunt from blood gases only',
    example: 'pavm shunt --po2 210mmHg --pco2 34mmHg --hb 15g/dL --fio2 1.0 --altitude 540m',
    options: [
      { flag: '--po2 <pressure>', text: 'arterial PO2' },
      { flag: '--pco2 <pressure>', text: 'arterial PCO2' },
      { flag: '--hb <haemoglobin>', text: 'haemoglobin' },
      { flag: '--fio2 <fraction>', text: 'inspired oxygen fraction, 0.21 to 1' },
      { flag: '--so2 <percent>', text: 'arterial saturation measured by co-oximetry' },
      { flag: '--ph <number>', text: 'arterial pH' },
      { flag: '--temperature <temperature>', text: 'body temperature' },
      { flag: '--altitude <length>', text: 'altitude, if the barometric pressure is not known' },
      { flag: '--pressure <pressure>', text: 'barometric pressure' },
      { flag: '--pvo2 <pressure>', text: 'mixed-venous PO2' },
      { flag: '--svo2 <percent>', text: 'mixed-venous saturation' },
      { flag: '--av-difference <content>', text: 'arterio-venous oxygen content difference to assume' },
      { flag: '--minutes <number>', text: 'minutes on oxygen before the sample' },
      RULES,
      JSON_OUT,
    ],
    load: () => import('./commands/shunt.js'),
  },
  {
    name: 'close',
    args: '<case> [names...]',
    summary: 'virtual closure: the shunt left after closing feeders, or the lobe',
    example: 'pavm close cases/plover A1',
    options: [
      { flag: '--occlusion <percent>', text: 'how far each named feeder is closed (default 100 %)' },
      ROOT,
      RULES,
      JSON_OUT,
    ],
    load: () => import('./commands/close.js'),
  },
  {
    name: 'size',
    args: '',
    summary: 'device fit alone: window, choice, alternates and rejects',
    example: 'pavm size --calibre 6.2mm --zone 15mm --shelf examples/shelf.yaml',
    options: [
      { flag: '--calibre <length>', text: 'landing calibre' },
      { flag: '--zone <length>', text: 'length of the landing zone' },
      { flag: '--shelf <file>', text: "the hospital's own devices" },
      { flag: '--allergy <name...>', text: 'allergies, for example nickel' },
      TODAY,
      RULES,
      JSON_OUT,
    ],
    load: () => import('./commands/size.js'),
  },
  {
    name: 'surface',
    args: '<case>',
    summary:
      'a surface of the lesion from points in its CT, or the structures of a label map as closed surfaces',
    example: 'pavm surface my-case',
    options: [
      {
        flag: '--out <dir>',
        text: 'where to write: from a CT the folder that surfaces/ lies in, from a label map the folder itself (default: surfaces/ beside the case file)',
      },
      {
        flag: '--suggest',
        text: 'write nothing; print further opacified vessels that join the lesion as lines for the case file',
      },
      ROOT,
      RULES,
      JSON_OUT,
    ],
    load: () => import('./commands/surface.js'),
  },
  {
    name: 'print',
    args: '<case>',
    summary: 'printable export alone',
    example: 'pavm print cases/heron',
    options: [
      { flag: '--out <dir>', text: 'where to write (default: print/ beside the case file)' },
      { flag: '--dicom', text: 'also write model.dcm: the model as a DICOM Encapsulated STL object' },
      { flag: '--patient-id <id>', text: 'patient id for model.dcm; default: none' },
      {
        flag: '--patient-name <name>',
        text: "patient's name for model.dcm, FAMILY^GIVEN; default: none",
      },
      {
        flag: '--frame-of-reference <uid>',
        text: "the scan's Frame of Reference UID for model.dcm, to place it in the scan (default: a new one)",
      },
      ROOT,
      RULES,
      JSON_OUT,
    ],
    load: () => import('./commands/print.js'),
  },
  {
    name: 'proof',
    args: '<case>',
    summary: 'caliper readings or a scan of the print, or of the specimen, against the model',
    example: 'pavm proof cases/heron --surface scan.stl --unit mm --out proof',
    options: [
      { flag: '--readings <file>', text: 'caliper readings at the check points' },
      { flag: '--surface <file>', text: 'a scan of the print, as a mesh, to lay over the model' },
      {
        flag: '--unit <unit>',
        text: 'unit of the scan: mm, cm, m or inch (else the one the file states, else mm)',
      },
      { flag: '--out <dir>', text: 'where to write the proof with pictures of the distances' },
      ROOT,
      RULES,
      JSON_OUT,
    ],
    load: () => import('./commands/proof.js'),
  },
  {
    name: 'grade',
    args: '<case...>',
    summary:
      "grade teaching cases against their answer keys, or a trainee's answers against the computed results",
    example: 'pavm grade cases/* --junit report.xml',
    options: [
      { flag: '--junit <file>', text: 'also write a JUnit report' },
      {
        flag: '--answers <file>',
        text: "grade a trainee's answers (format: pavm-answers/1) instead of the key",
      },
      TODAY,
      ROOT,
      RULES,
      JSON_OUT,
    ],
    load: () => import('./commands/grade.js'),
  },
  {
    name: 'compare',
    args: '<old> <new>',
    summary: 'two plans or two cases of one lesion: what changed, and does the plan still stand',
    example: 'pavm compare cases/tern-before cases/tern-after --out change.md',
    options: [
      { flag: '--out <file>', text: 'write the comparison to a file instead of stdout' },
      { flag: '--treated', text: 'the lesion was treated between the two scans, and neither case says so' },
      {
        flag: '--overlay',
        text: 'also lay the new surfaces over the old ones; with --out, pictures of the distances beside it',
      },
      TODAY,
      ROOT,
      RULES,
      JSON_OUT,
    ],
    load: () => import('./commands/compare.js'),
  },
  {
    name: 'batch',
    args: '<case...>',
    summary: 'plan many cases, several at once, with a summary; unchanged cases are not computed again',
    example: 'pavm batch cases/* --jobs 4 --out plans',
    options: [
      { flag: '--jobs <number>', text: 'cases computed at once (default: the processors of this machine)' },
      {
        flag: '--out <dir>',
        text: 'plans to DIR/ID/ and the summary to DIR (default: plan/ beside each case, summary here)',
      },
      {
        flag: '--shard <i/n>',
        text: 'only this share of the list, for example 2/5; put together with pavm gather',
      },
      { flag: '--watch', text: 'keep running and recompute what changes' },
      { flag: '--force', text: 'recompute even unchanged cases' },
      TODAY,
      ROOT,
      RULES,
      JSON_OUT,
    ],
    load: () => import('./commands/batch.js'),
  },
  {
    name: 'gather',
    args: '<dir...>',
    summary: 'one summary from the shares of a batch',
    example: 'pavm gather plans',
    options: [{ flag: '--out <dir>', text: 'where to write (default: the first folder)' }, JSON_OUT],
    load: () => import('./commands/gather.js'),
  },
];
