/**
 * Every publication the project is based on, once. `read` says how it was read:
 * `opened` (the passage itself), `excerpt` (abstract or quoted table), `secondary` (a page that quotes it), `memory`.
 */
export interface Source {
  cite: string;
  /** Its subject or content. */
  about?: string;
  read: 'opened' | 'excerpt' | 'secondary' | 'memory';
}

export const COMMON_PRACTICE = 'common practice, no source';

export const SOURCES = {
  'santhirapala-2014': { cite: 'Santhirapala et al., PLoS One 2014;9:e90777', read: 'excerpt' },
  'severinghaus-1979': { cite: 'Severinghaus, J Appl Physiol 1979;46(3):599-602', read: 'excerpt' },
  'ellis-1989': { cite: 'Ellis, J Appl Physiol 1989;67:902', read: 'secondary' },
  'siggaard-andersen-1984': {
    cite: 'Siggaard-Andersen et al., Clin Chem 1984;30(10):1646-1651',
    read: 'excerpt',
  },
  'dominguez-1981': { cite: 'Dominguez de Villota et al., Br J Anaesth 1981;53:1325', read: 'excerpt' },
  'crc-handbook-1992': {
    cite: 'CRC Handbook of Chemistry and Physics 1992-93, vapour pressure of water',
    read: 'secondary',
  },
  'buck-1996': {
    cite: 'Buck, vapour pressure equation, 1996 revision of J Appl Meteorol 1981;20:1527',
    read: 'memory',
  },
  'iso-2533': { cite: 'ISO 2533:1975, Standard atmosphere', read: 'memory' },
  'fenn-1946': {
    cite: 'Fenn, Rahn, Otis, Am J Physiol 1946;146:637 (alveolar gas equation)',
    read: 'memory',
  },
  'berggren-1942': { cite: 'Berggren, Acta Physiol Scand 1942; suppl 11', read: 'memory' },
  'chiang-1968': { cite: 'Chiang, Thorax 1968;23:563', read: 'memory' },
  'clin-sci-2002': {
    cite: 'Clin Sci 2002;102:127 (12 patients with HHT, before and after embolisation)',
    read: 'excerpt',
  },
  'toffaletti-2026': {
    cite: 'Toffaletti & Zavorsky, Physiol Rep 2026, doi 10.14814/phy2.70763',
    read: 'excerpt',
  },
  'fick-1870': { cite: 'Fick, Verh Phys Med Ges Würzburg 1870;2:16', read: 'memory' },
  'devine-1974': { cite: 'Devine, Drug Intell Clin Pharm 1974;8:650 (ideal weight)', read: 'memory' },
  'jap-2005-rest': {
    cite: 'J Appl Physiol 2005;99:1112 (oxygen uptake at rest of 769 adults, 2.6 (SD 0.4) mL/kg/min)',
    read: 'excerpt',
  },
  'gossage-1998': { cite: 'Gossage & Kanj, Am J Respir Crit Care Med 1998;158:643', read: 'memory' },
  'whyte-1992': { cite: 'Whyte et al., Thorax 1992;47:790', read: 'excerpt' },
  'ueki-1994': { cite: 'Ueki et al., Thorax 1994;49:327', read: 'excerpt' },
  'yasuda-2015': { cite: 'Yasuda et al., Thorax 2015 (athlete with a PAVM)', read: 'excerpt' },
  'clia-blood-gas': {
    cite: 'CLIA acceptable performance for blood gases (pH 0.04, PCO2 5 mmHg), as quoted in a table of Eur Respir J',
    read: 'secondary',
  },
  'poiseuille-sutera-1993': {
    cite: 'Sutera & Skalak, Annu Rev Fluid Mech 1993;25:1',
    about: 'the law of Poiseuille',
    read: 'memory',
  },
  'murray-1926': { cite: 'Murray, Proc Natl Acad Sci USA 1926;12:207', read: 'memory' },
  'lichtman-viscosity': {
    cite: 'Lichtman, viscosity of blood against haematocrit (fit in a secondary page)',
    read: 'secondary',
  },
  'esc-ers-2022': { cite: 'ESC/ERS Guidelines on pulmonary hypertension, 2022', read: 'excerpt' },
  'esc-ers-2022-severe': {
    cite: 'ESC/ERS Guidelines on pulmonary hypertension, 2022 (severe in lung disease: above 5 Wood units)',
    read: 'memory',
  },
  'esc-ers-2015': { cite: 'ESC/ERS Guidelines on pulmonary hypertension, 2015', read: 'memory' },
  'ers-normal-haemodynamics': {
    cite: 'European Respiratory Society, table of normal right-heart values',
    read: 'excerpt',
  },
  'shovlin-2008-pressure': {
    cite: 'Eur Respir J 2008;32:162 (PA pressure in 43 embolised patients)',
    read: 'excerpt',
  },
  'err-2009-left-open': {
    cite: 'Eur Respir Rev 2009;18:42 (severe hypertension, feeder left open, fatal haemothorax)',
    read: 'excerpt',
  },
  'bmc-2021-ruptured': {
    cite: 'BMC Pulm Med 2021, s12890-021-01604-5 (18 patients who bled, all stopped by embolisation)',
    read: 'excerpt',
  },
  'gershon-2001': {
    cite: 'Gershon et al., Chest 2001;119:470',
    about: 'embolisation of 7 pregnant women',
    read: 'excerpt',
  },
  'chest-2010-tamponade': {
    cite: 'Chest 2010;137:705 (drain only after closure, 2 of 2 lived)',
    read: 'excerpt',
  },
  'pa-rupture-protocol': {
    cite: 'PMC4252348 (protocol for rupture of a pulmonary artery by a catheter)',
    read: 'secondary',
  },
  'chest-2020-haemoptysis': { cite: 'Chest 2020;157:77 (haemoptysis, as quoted)', read: 'secondary' },
  'gopinath-2023': {
    cite: 'Gopinath et al., Chest 2023;163:1176',
    about: 'tranexamic acid, 110 patients',
    read: 'excerpt',
  },
  'af-guideline-2023': {
    cite: 'ACC, AHA, ACCP and HRS guideline on atrial fibrillation, 2023, table on reversal',
    read: 'excerpt',
  },
  'crit-care-2023-air': {
    cite: 'Crit Care 2023;27 (hyperbaric oxygen in cerebral gas embolism, 10 studies)',
    read: 'excerpt',
  },
  'bts-2017': { cite: 'BTS Clinical Statement on PAVM, Thorax 2017;72:1154', read: 'excerpt' },
  'bts-scts-2001': { cite: 'BTS/SCTS guideline, Thorax 2001;56:89', read: 'memory' },
  'bts-2010-resection': {
    cite: 'BTS/SCTS guideline on radical management of lung cancer, Thorax 2010;65 suppl III',
    read: 'memory',
  },
  'accp-2013-resection': { cite: 'Brunelli et al., Chest 2013;143(5 suppl):e166S', read: 'excerpt' },
  'du-bois-1916': { cite: 'Du Bois and Du Bois, Arch Intern Med 1916;17:863', read: 'secondary' },
  'haycock-1978': { cite: 'Haycock et al., J Pediatr 1978;93:62', read: 'secondary' },
  'kdigo-2012': {
    cite: 'KDIGO guideline on chronic kidney disease, Kidney Int Suppl 2013;3:1',
    read: 'secondary',
  },
  'jegier-1963': {
    cite: 'Jegier et al., Br Heart J 1963;25:425 (cardiac output and body size, 77 subjects; authors and volume from memory)',
    read: 'excerpt',
  },
  'bergstra-1995': { cite: 'Bergstra et al., Eur Heart J 1995;16:698', read: 'secondary' },
  'lim-2024': {
    cite: 'Lim et al., J Thorac Dis 2024;16:247',
    about: 'predicted against measured lung function, 158 resections',
    read: 'excerpt',
  },
  'who-2024-haemoglobin': {
    cite: 'WHO guideline on haemoglobin cutoffs to define anaemia, 2024',
    read: 'secondary',
  },
  'arber-2016': {
    cite: 'Arber et al., Blood 2016;127:2391',
    about: 'WHO classification: haemoglobin above 16.5 g/dL in men, 16.0 in women',
    read: 'memory',
  },
  'resections-2025': {
    cite: 'Falk et al., JTCVS Open 2025;23:309',
    about: '18 resections of PAVM, 2009 to 2023',
    read: 'excerpt',
  },
  'dir-2024-position': {
    cite: 'Diagn Interv Radiol 2024, doi 10.4274/dir.2024.242732 (position of the device in 103 PAVM)',
    read: 'excerpt',
  },
  'cvir-endovasc-2021': {
    cite: 'CVIR Endovasc 2021, doi 10.1186/s42155-021-00207-9 (vein and sac shrinkage, 50 PAVM)',
    read: 'excerpt',
  },
  'makimoto-sac': {
    cite: 'Makimoto et al., Jpn J Radiol 2014;32:266 (sac shrinkage of 22 PAVM at 12 months; journal from memory)',
    read: 'excerpt',
  },
  'hht-pregnancy-2020': {
    cite: 'Dupuis et al., Orphanet J Rare Dis 2020;15:5 (1577 pregnancies in HHT; authors and page from memory)',
    read: 'excerpt',
  },
  'thoracoscopic-wedge-2023': {
    cite: 'J Cardiothorac Surg 2023;18:213, doi 10.1186/s13019-023-02335-w (thoracoscopic wedge of 24 PAVM)',
    read: 'excerpt',
  },
  'calgb-140503': {
    cite: 'CALGB 140503, Lancet Respir Med 2018 (697 lung cancers: deaths within 30 days, lobe 1.1 %, less than a lobe 0.6 %)',
    read: 'excerpt',
  },
  'segment-leak-2022': {
    cite: 'J Thorac Dis 2022 (segmentectomy, prolonged air leak in 36 of 191)',
    read: 'excerpt',
  },
  'bayman-2014': {
    cite: 'Bayman & Brennan, J Pain 2014;15:887',
    about: 'pain 6 months after thoracotomy, 47 %',
    read: 'memory',
  },
  'faughnan-2004': {
    cite: 'Faughnan et al., J Pediatr 2004;145:826',
    about: 'children; pain after 24 % of sessions',
    read: 'excerpt',
  },
  'recanalised-1997': {
    cite: 'Obstet Gynecol Surv 1997;52:248 (closed at 24 weeks, open again at 36)',
    read: 'excerpt',
  },
  'lingular-artery-404': {
    cite: 'J Cardiothorac Surg 2021, doi 10.1186/s13019-021-01682-w (404 left upper lobes, lingular artery)',
    read: 'excerpt',
  },
  'lee-2003-echo': {
    cite: 'Lee et al., Chest 2003;123:351',
    about: 'contrast echocardiography after closure, 29 patients',
    read: 'excerpt',
  },
  'bmc-pulm-bleeding-2021': {
    cite: 'BMC Pulm Med 2021, doi 10.1186/s12890-021-01604-5 (18 of 406 patients with a PAVM bled)',
    read: 'excerpt',
  },
  'nist-sp-811': { cite: 'NIST SP 811, appendix B, conversion factors', read: 'memory' },
  'shovlin-2000-curacao': {
    cite: 'Shovlin et al., Am J Med Genet 2000;91:66',
    about: 'Curacao criteria',
    read: 'excerpt',
  },
  'shovlin-2008-stroke': { cite: 'Shovlin et al., Thorax 2008;63:259', read: 'excerpt' },
  'shovlin-2014-iron': { cite: 'Shovlin et al., PLoS One 2014;9:e88812', read: 'excerpt' },
  'hht-2011': { cite: 'Faughnan et al., J Med Genet 2011;48:73', about: 'HHT guidelines', read: 'secondary' },
  'hht-2020': {
    cite: 'Faughnan et al., Ann Intern Med 2020;173:989',
    about: 'second HHT guidelines',
    read: 'memory',
  },
  'pierucci-2012': {
    cite: 'Pierucci et al., Chest 2012 (diffuse PAVM, 36 of 821 patients)',
    read: 'excerpt',
  },
  'white-1988': { cite: 'White et al., Radiology 1988 (simple and complex PAVM)', read: 'memory' },
  'lee-1997': {
    cite: 'Lee et al., Ann Thorac Surg 1997;64:930',
    about: 'feeders of 8 mm or more',
    read: 'excerpt',
  },
  'ajr-2009-plug': {
    cite: 'AJR 2009;192 (12 PAVM, arteries of 3.0 to 11.2 mm, plugs of 4 to 16 mm)',
    read: 'excerpt',
  },
  'woodward-2013': { cite: 'Woodward et al., Radiology 2013;269:919', read: 'excerpt' },
  'sluzewski-2004': { cite: 'Sluzewski et al., Radiology 2004 (packing of brain aneurysms)', read: 'memory' },
  'gueroult-2021': { cite: 'Gueroult et al., Heart 2021 (nickel and endovascular devices)', read: 'excerpt' },
  'cigarroa-1989': {
    cite: 'Cigarroa et al., Am J Med 1989;86:649',
    about: 'contrast volume',
    read: 'excerpt',
  },
  'nyman-2008': { cite: 'Nyman et al., 2008 (gram iodine over eGFR)', read: 'excerpt' },
  'nie-2021': {
    cite: 'Nie et al., Front Med 2021;8:701062',
    about: '4254 patients, contrast volume over filtration',
    read: 'excerpt',
  },
  'laskey-2007': { cite: 'Laskey et al., 2007 (contrast volume over creatinine clearance)', read: 'memory' },
  'esur-10': { cite: 'ESUR contrast media guideline 10.0, 2018', read: 'memory' },
  'who-2009-checklist': { cite: 'WHO Surgical Safety Checklist, 2009', read: 'excerpt' },
  'mirski-2007': {
    cite: 'Mirski et al., Anesthesiology 2007;106:164',
    about: 'air embolism',
    read: 'secondary',
  },
  'kirschbaum-2025': {
    cite: 'Kirschbaum et al., J Thorac Dis 2025;17:5680',
    about: 'leak test',
    read: 'excerpt',
  },
  'radiology-1987-collaterals': {
    cite: 'Radiology 1987;164:687 (non-bronchial systemic collaterals)',
    read: 'excerpt',
  },
  'okabe-ito-2008': {
    cite: 'Okabe and Ito, Color Universal Design (CUD), 2008 (palette for colour-vision deficiency)',
    read: 'secondary',
  },
  'schulze-2024': {
    cite: 'Schulze et al., 3D Print Med 2024;10:9',
    about: 'review of 139 papers on the accuracy of printed models',
    read: 'excerpt',
  },
  'front-med-technol-2023': {
    cite: 'Front Med Technol 2023 (printed vascular models against CT angiography, four processes)',
    read: 'excerpt',
  },
  'msallem-2020': {
    cite: 'Msallem et al., J Clin Med 2020 (trueness of printed mandibles, five processes)',
    read: 'excerpt',
  },
  'msa-average-range': {
    cite: 'Measurement Systems Analysis, reference manual, 4th edition: average and range method',
    about: 'repeatability and reproducibility of a gauge',
    read: 'memory',
  },
  'bland-altman-1999': {
    cite: 'Bland and Altman, Stat Methods Med Res 1999;8:135',
    about: 'limits of agreement from repeated readings',
    read: 'memory',
  },
  'bland-altman-1986': {
    cite: 'Bland and Altman, Lancet 1986;327:307',
    about: 'limits of agreement',
    read: 'memory',
  },
  'besl-mckay-1992': {
    cite: 'Besl and McKay, IEEE Trans Pattern Anal Mach Intell 1992;14:239',
    about: 'iterated closest points',
    read: 'memory',
  },
  'chen-medioni-1992': {
    cite: 'Chen and Medioni, Image Vision Comput 1992;10:145',
    about: 'point-to-plane distances',
    read: 'memory',
  },
  'rollano-hijarrubia-2006': {
    cite: 'Rollano-Hijarrubia et al., Acad Radiol 2006;13:893',
    about: 'size and density of small objects in CT',
    read: 'secondary',
  },
} as const satisfies Record<string, Source>;
