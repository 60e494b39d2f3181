import type { DataSet } from 'dicom-parser';
import type { Identity } from './identity-fields.js';

/** A text of a file and its field. */
export interface FileText {
  field: string;
  text: string;
}

/**
 * Attributes that identify a patient, directly or through a person, a place or a number: a selection from the basic profile of DICOM
 * PS3.15 annex E (from memory). Study dates, UIDs and the scanner are omitted, since they identify nobody by themselves.
 */
const ATTRIBUTES: Readonly<Record<string, string>> = {
  x00080050: 'accession number',
  x00080080: 'institution',
  x00080081: 'institution address',
  x00081040: 'institution department',
  x00080090: 'referring physician',
  x00080092: "referring physician's address",
  x00080094: "referring physician's telephone",
  x00081048: 'physician of record',
  x00081050: 'performing physician',
  x00081060: 'reading physician',
  x00081070: 'operator',
  x00100010: "patient's name",
  x00100020: 'patient id',
  x00100030: 'birth date',
  x00100032: 'birth time',
  x00101000: 'other patient ids',
  x00101001: 'other patient names',
  x00101005: 'birth name',
  x00101040: 'address',
  x00101060: "mother's birth name",
  x00101090: 'medical record locator',
  x00102154: 'telephone',
  x00102297: 'responsible person',
  x00321032: 'requesting physician',
  x00380010: 'admission id',
  x00402016: 'order number',
  x00402017: 'order number',
};

/** Attributes that a de-identified object may still hold, as pseudonyms. */
const PSEUDONYMS = [
  'accession number',
  "patient's name",
  'patient id',
  'other patient ids',
  'other patient names',
];

/** Free-text attributes that may hold anything. */
const COMMENTS: Readonly<Record<string, string>> = {
  x00104000: 'patient comments',
  x00204000: 'image comments',
  x00324000: 'study comments',
};

/**
 * The attributes of a DICOM header that identify a patient, including nested ones. If (0012,0062) says that the identity was removed,
 * name, id and accession number count as pseudonyms; all others still count. Private attributes and pixels are not examined.
 */
export function dicomIdentity(data: DataSet): Identity {
  const removed = data.string('x00120062')?.trim().toUpperCase() === 'YES';
  const by = new Set<string>();
  if (data.string('x00280301')?.trim().toUpperCase() === 'YES') by.add('text in the pixels');
  const visit = (set: DataSet): void => {
    for (const [tag, element] of Object.entries(set.elements)) {
      if (element.items) {
        for (const { dataSet } of element.items) if (dataSet) visit(dataSet);
        continue;
      }
      const comment = COMMENTS[tag];
      const field = ATTRIBUTES[tag] ?? comment ?? (element.vr === 'PN' ? 'name of a person' : undefined);
      if (field === undefined || (removed && PSEUDONYMS.includes(field))) continue;
      const value = set.string(tag) ?? '';
      if (comment === undefined ? !namesNobody(value) : looksIdentifying(value)) by.add(field);
    }
  };
  visit(data);
  return { by: [...by].sort(), freeText: [] };
}

/** The texts of other files that identify a patient, and those that only a reader can judge. */
export function textIdentity(texts: readonly FileText[]): Identity {
  const by = new Set<string>();
  const freeText = new Set<string>();
  for (const { field, text } of texts) {
    if (looksIdentifying(text)) by.add(field);
    else if (!namesNobody(text)) freeText.add(field);
  }
  return { by: [...by].sort(), freeText: [...freeText].filter((field) => !by.has(field)).sort() };
}

/** Merges several identities. */
export function joinedIdentity(all: readonly Identity[]): Identity {
  const union = (pick: (one: Identity) => string[]): string[] => [...new Set(all.flatMap(pick))].sort();
  return { by: union(({ by }) => by), freeText: union(({ freeText }) => freeText) };
}

const NOBODY =
  /^(?:anon|anonym|anonymous|anonymi[sz]ed|deidentified|unknown|none|null|noname|removed|redacted|unspecified)$/i;
const FILLER = /^(?:x+|0+|19000101|00010101|n\/?a|[?.*]+)$/i;
const COMPANION = /^(?:patient|subject|name|id|case|\d+)$/i;

/** Whether a value identifies nobody: empty, a filler, or a usual word for "anonymous". */
function namesNobody(value: string): boolean {
  const parts = value
    .replace(/\0/g, '')
    .replace(/de-identified/gi, 'deidentified')
    .split(/[\^\s_=,\\-]+/)
    .filter(Boolean);
  if (parts.every((part) => FILLER.test(part))) return true;
  return (
    parts.some((part) => NOBODY.test(part)) &&
    parts.every((part) => NOBODY.test(part) || FILLER.test(part) || COMPANION.test(part))
  );
}

const DELIMITER = '["\' ]*(?::=|[:=])["\' ]*';
const VALUE = '([^,;|<>"\\r\\n]+)';
/** Signs of an identifier in free text, each with the value that would identify somebody. Common practice, no source. */
const SIGNS: readonly RegExp[] = [
  // a name in DICOM notation
  /((?:\p{L}{2,}|\p{L}+[-']\p{L}+)\^\p{L}[^\s,;|<>"]*)/u,
  new RegExp(
    String.raw`(?:patient|\bpat)(?:['’]?s)?[ _.-]?(?:name|id|number|no|birth[ _-]?date)?${DELIMITER}${VALUE}`,
    'iu',
  ),
  new RegExp(String.raw`(?:patient|\bpat)(?:['’]?s)?[ _.-]?(?:name|id|number)[ _]+${VALUE}`, 'iu'),
  /\b(?:dob|born|birth[ _-]?date|date[ _-]of[ _-]birth|mrn|medical record(?: number)?|accession(?:[ _-]?number)?)\b["' ]*(?::=|[:=#])?["' ]*([^,;|<>"\r\n]*\d[^,;|<>"\r\n]*)/iu,
  new RegExp(
    String.raw`\b(?:institution(?:[ _-]?name)?|hospital|(?:[a-z]+[ _-]?)?physician|(?:first|last|family|given|sur)[ _-]?name)${DELIMITER}${VALUE}`,
    'iu',
  ),
];

/** Whether a text seems to identify a patient, directly or through a person or place. */
export function looksIdentifying(text: string): boolean {
  return SIGNS.some((sign) => {
    const value = sign.exec(text)?.[1];
    return value !== undefined && !namesNobody(value);
  });
}
