import { createHash } from 'node:crypto';
import type { DicomDataSet, DicomElement } from 'dcmjs';
import { InputFailure } from '../foundation/failure.js';
import { hasInvisible, quoted } from '../foundation/quoted-text.js';
import type { Frame } from './tag.js';

/** Patient identifiers; only those that the user asked to write. */
export interface PatientIdentifiers {
  /** Patient ID (0010,0020), at most 64 characters. */
  patientId?: string;
  /** Patient's Name (0010,0010) as the standard writes it, `FAMILY^GIVEN`; each component group at most 64 characters. */
  patientName?: string;
}

export interface EncapsulatedStlInput {
  /** A binary STL in mm; its bytes are embedded unchanged. */
  stl: Uint8Array;
  caseId: string;
  /** Document title, at most 1024 characters. */
  title: string;
  /** ISO date of the scan that the model was made from. */
  scanDate?: string;
  /** Axes of the STL's coordinates; written as text, since the object has its own frame of reference. */
  frame: Frame;
  /** Description of the model; with the axes at most 64 characters. */
  description: string;
  /** Version of this software (0018,1020). */
  softwareVersion: string;
  identifiers?: PatientIdentifiers;
  /** Frame of Reference UID of the scan, if the user asks to write it: the STL's coordinates are then those of the scan. */
  frameOfReference?: string;
}

const SOP_CLASS = '1.2.840.10008.5.1.4.1.1.104.3';
const EXPLICIT_LITTLE_ENDIAN = '1.2.840.10008.1.2.1';
const AXES: Record<Frame, string> = { LPS: 'axes LPS', RAS: 'axes RAS', unknown: 'axes not stated' };
/** Longest Long String (LO) and Person Name component group (PN), characters: PS3.5 table 6.2-1 (from memory). */
const LONGEST_LO = 64;
/** Longest Short Text (ST), characters: as above. */
const LONGEST_ST = 1024;

/**
 * A DICOM Encapsulated STL object (PS3.3 annex A.85.1) in the file form of PS3.10, explicit VR little endian.
 *
 * Units    the measurement units are stated as UCUM mm; nothing is scaled
 * Same in, same out: there is no clock; every UID is derived from the content, so different content gives a different object, with its
 * own study, series and frame of reference. The scan's frame of reference is used only on request.
 * Privacy  patient's name, ID, birth date and sex are empty, unless `identifiers` holds a name or an ID; the case id is a
 *          patient comment. The only date is the scan's, as the time of acquisition.
 * Errors   `InputFailure` (2) if a text does not fit its attribute, or the scan's frame is requested for axes other than LPS
 * Source   DICOM PS3.3 A.85.1, C.24.2, C.35.1; PS3.5 B.2 for the form of the UIDs (from memory)
 * Checked  tests/print/encapsulated-stl.test.ts: an outside validator of the IOD
 */
export async function encapsulateStl(input: EncapsulatedStlInput): Promise<Uint8Array> {
  const patientId = checkedText('the patient id', input.identifiers?.patientId, LONGEST_LO);
  const patientName = checkedName(input.identifiers?.patientName);
  const frameOfReference = checkedFrame(input);
  const comment = `Case ${input.caseId}`;
  const title = checkedText('the title of the model', input.title, LONGEST_ST) ?? '';
  const description =
    checkedText('the description of the model', `${input.description}, ${AXES[input.frame]}`, LONGEST_LO) ??
    '';
  const hash = createHash('sha256')
    .update(
      JSON.stringify([
        patientId ?? null,
        patientName ?? null,
        comment,
        title,
        description,
        input.scanDate ?? null,
        input.softwareVersion,
        ...(frameOfReference ? [frameOfReference] : []),
      ]),
    )
    .update(input.stl)
    .digest('hex');
  const sopInstance = derivedUid(hash, 'instance');

  const dataSet: DicomDataSet = {
    '00080005': cs('ISO_IR 192'),
    '00080016': ui(SOP_CLASS),
    '00080018': ui(sopInstance),
    // General Study: no study is known, and the scan's is not used.
    '00080020': empty('DA'),
    '00080023': empty('DA'),
    '0008002A': input.scanDate ? text('DT', input.scanDate.replaceAll('-', '')) : empty('DT'),
    '00080030': empty('TM'),
    '00080033': empty('TM'),
    '00080050': empty('SH'),
    '00080060': cs('M3D'),
    // Enhanced General Equipment: a program has no serial number, but the attribute is required.
    '00080070': text('LO', 'pavm-planner'),
    '00080090': empty('PN'),
    '00081090': text('LO', 'pavm'),
    '00100010': patientName ? text('PN', patientName) : empty('PN'),
    '00100020': patientId ? text('LO', patientId) : empty('LO'),
    '00100030': empty('DA'),
    '00100040': empty('CS'),
    '00104000': text('LT', comment),
    '00181000': text('LO', 'none: a program'),
    '00181020': text('LO', input.softwareVersion),
    '0020000D': ui(derivedUid(hash, 'study')),
    '0020000E': ui(derivedUid(hash, 'series')),
    '00200010': empty('SH'),
    '00200011': text('IS', '1'),
    '00200013': text('IS', '1'),
    '00200052': ui(frameOfReference ?? derivedUid(hash, 'frame of reference')),
    '00201040': empty('LO'),
    // The tag shows the case id and the side, but does not identify the patient.
    '00280301': cs('NO'),
    '004008EA': {
      vr: 'SQ',
      Value: [{ '00080100': text('SH', 'mm'), '00080102': text('SH', 'UCUM'), '00080104': text('LO', 'mm') }],
    },
    '0040A043': empty('SQ'),
    '00420010': title ? text('ST', title) : empty('ST'),
    '00420011': { vr: 'OB', Value: [evenLength(input.stl)] },
    '00420012': text('LO', 'model/stl'),
    '00420015': { vr: 'UL', Value: [input.stl.length] },
    // Joined, repaired and tagged: not the anatomy as segmented. Never mirrored.
    '00687001': cs('YES'),
    '00687002': cs('NO'),
    '00700081': text('LO', description),
  };
  const { default: dcmjs } = await import('dcmjs');
  const file = new dcmjs.data.DicomDict({
    '00020001': { vr: 'OB', Value: [Uint8Array.of(0, 1).buffer] },
    '00020002': ui(SOP_CLASS),
    '00020003': ui(sopInstance),
    '00020010': ui(EXPLICIT_LITTLE_ENDIAN),
    '00020012': ui(uidOfHash(createHash('sha256').update('pavm-planner').digest('hex'))),
    '00020013': text('SH', 'PAVM_PLANNER'),
  });
  file.dict = dataSet;
  return new Uint8Array(file.write());
}

const text = (vr: string, value: string): DicomElement => ({ vr, Value: [value] });
const ui = (value: string): DicomElement => text('UI', value);
const cs = (value: string): DicomElement => text('CS', value);
/** An attribute that is required but may be empty (type 2). */
const empty = (vr: string): DicomElement => ({ vr, Value: [] });

function derivedUid(hash: string, role: string): string {
  return uidOfHash(createHash('sha256').update(`${role} ${hash}`).digest('hex'));
}

/**
 * A UID of the form `2.25.` and a UUID as one decimal number (PS3.5 B.2, from memory): 128 bits of a hash, made a valid UUID of version 8
 * (RFC 9562: custom contents; from memory). Not for use if the content must not be guessable.
 */
export function uidOfHash(hex: string): string {
  const bits = BigInt(`0x${hex.slice(0, 32)}`);
  const version = (bits & ~(0xfn << 76n)) | (8n << 76n);
  const variant = (version & ~(3n << 62n)) | (2n << 62n);
  return `2.25.${variant}`;
}

/** Values have an even length in DICOM; (0042,0015) holds the true one. Returns a copy, independent of any shared pool. */
function evenLength(bytes: Uint8Array): ArrayBuffer {
  const padded = new Uint8Array(bytes.length + (bytes.length % 2));
  padded.set(bytes);
  return padded.buffer;
}

/** Digits in groups without leading zeros, at most 64 characters: PS3.5 9.1 (from memory). */
function checkedFrame(input: EncapsulatedStlInput): string | undefined {
  const uid = input.frameOfReference;
  if (uid === undefined) return undefined;
  if (uid.length > 64 || !/^(0|[1-9]\d*)(\.(0|[1-9]\d*))+$/.test(uid))
    throw new InputFailure(
      2,
      `the frame of reference ${quoted(uid)} is not a UID. Copy Frame of Reference UID (0020,0052) from the scan: digits and dots.`,
    );
  if (input.frame !== 'LPS')
    throw new InputFailure(
      2,
      `the scan's frame of reference can be claimed for coordinates in LPS alone, and surfaces.frame is ${input.frame}. Export the surfaces in LPS, or leave the frame of reference out.`,
    );
  return uid;
}

/** Trimmed; undefined if none was given. A backslash would begin a second value. */
function checkedText(what: string, given: string | undefined, longest: number): string | undefined {
  if (given === undefined) return undefined;
  const value = given.trim();
  const fault =
    value.length === 0
      ? 'it is empty'
      : [...value].length > longest
        ? `it is longer than ${longest} characters`
        : value.includes('\\') || hasInvisible(value)
          ? 'it contains a backslash or an invisible character'
          : undefined;
  if (fault)
    throw new InputFailure(
      2,
      `${what} ${quoted(given)} is not allowed in a DICOM object: ${fault}. Write it as plain text.`,
    );
  return value;
}

/** A Person Name: up to three groups separated by `=`, each of up to five components separated by `^` (PS3.5 6.2.1, from memory). */
function checkedName(given: string | undefined): string | undefined {
  const name = checkedText('the patient name', given, 3 * LONGEST_LO + 2);
  if (name === undefined) return undefined;
  const groups = name.split('=');
  if (groups.length > 3 || groups.some((g) => [...g].length > LONGEST_LO || g.split('^').length > 5))
    throw new InputFailure(
      2,
      `the patient name ${quoted(name)} is not allowed in a DICOM object: it has more parts than a name may have, or one is longer than ${LONGEST_LO} characters. Write FAMILY^GIVEN.`,
    );
  return name;
}
