/**
 * Every publication the project rests on, once. `read` says how it was read:
 * `opened` (the passage itself), `excerpt` (abstract or quoted table), `secondary` (a page that quotes it), `memory`.
 */
export interface Source {
  cite: string;
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
  'gossage-1998': { cite: 'Gossage & Kanj, Am J Respir Crit Care Med 1998;158:643', read: 'memory' },
  'whyte-1992': { cite: 'Whyte et al., Thorax 1992;47:790', read: 'excerpt' },
  'ueki-1994': { cite: 'Ueki et al., Thorax 1994;49:327', read: 'excerpt' },
  'yasuda-2015': { cite: 'Yasuda et al., Thorax 2015 (athlete with a PAVM)', read: 'excerpt' },
  'clia-blood-gas': {
    cite: 'CLIA acceptable performance for blood gases (pH 0.04, PCO2 5 mmHg), as quoted in a table of Eur Respir J',
    read: 'secondary',
  },
  'poiseuille-sutera-1993': {
    cite: 'Sutera & Skalak, Annu Rev Fluid Mech 1993;25:1 (the law of Poiseuille)',
    read: 'memory',
  },
  'murray-1926': { cite: 'Murray, Proc Natl Acad Sci USA 1926;12:207', read: 'memory' },
  'lichtman-viscosity': {
    cite: 'Lichtman, viscosity of blood against haematocrit (fit in a secondary page)',
    read: 'secondary',
  },
  'esc-ers-2022': { cite: 'ESC/ERS Guidelines on pulmonary hypertension, 2022', read: 'excerpt' },
  'esc-ers-2015': { cite: 'ESC/ERS Guidelines on pulmonary hypertension, 2015', read: 'memory' },
  'ers-normal-haemodynamics': {
    cite: 'European Respiratory Society, table of normal right-heart values',
    read: 'excerpt',
  },
  'shovlin-2008-pressure': {
    cite: 'Eur Respir J 2008;32:162 (PA pressure in 43 embolised patients)',
    read: 'excerpt',
  },
  'bts-2017': { cite: 'BTS Clinical Statement on PAVM, Thorax 2017;72:1154', read: 'excerpt' },
  'bts-scts-2001': { cite: 'BTS/SCTS guideline, Thorax 2001;56:89', read: 'memory' },
  'bts-2010-resection': {
    cite: 'BTS/SCTS guideline on radical management of lung cancer, Thorax 2010;65 suppl III',
    read: 'memory',
  },
  'accp-2013-resection': { cite: 'Brunelli et al., Chest 2013;143(5 suppl):e166S', read: 'excerpt' },
  'nist-sp-811': { cite: 'NIST SP 811, appendix B, conversion factors', read: 'memory' },
} as const satisfies Record<string, Source>;
