import { SaxesParser } from 'saxes';
import { quoted } from '../../foundation/quoted-text.js';
import { MeshBuilder } from './mesh-builder.js';
import { EXPORT_AGAIN, MOST_OBJECTS, plainName, refuse } from './mesh-file.js';
import { parseDecimal } from './text-scanner.js';

export interface ModelComponent {
  /** `PART#ID` of the object it stands for. */
  object: string;
  /** 12 numbers as the standard writes them (row vectors, rows m00 m01 m02 …). */
  transform?: number[];
}

export interface ModelObject {
  key: string;
  name: string;
  type: string;
  mesh?: MeshBuilder;
  components: ModelComponent[];
}

export interface Model {
  unitMm: number;
  objects: Map<string, ModelObject>;
  items: ModelComponent[];
  /** Parts of the package that components and items stand in. */
  otherParts: Set<string>;
  /** `NAME: TEXT` of each metadata element, cut to a bounded length. */
  metadata: string[];
}

const MOST_METADATA = 100;
const LONGEST_METADATA = 1000;

/** Units of the 3MF core specification, section 3.4, in mm. */
const UNITS: Record<string, number> = {
  micron: 0.001,
  millimeter: 1,
  centimeter: 10,
  inch: 25.4,
  foot: 304.8,
  meter: 1000,
};
const PRODUCTION = 'http://schemas.microsoft.com/3dmanufacturing/production/2015/06';
const encoder = new TextEncoder();

/**
 * Reads one model part of a 3MF package, fed as text in pieces. Document types (and with them entities) are refused.
 * Only meshes, components, build items, names and the unit are taken.
 */
export function modelReader(file: string, part: string): { write(text: string): void; end(): Model } {
  const parser = new SaxesParser({ xmlns: false });
  const model: Model = { unitMm: 1, objects: new Map(), items: [], otherParts: new Set(), metadata: [] };
  let metadata: string | undefined;
  let object: ModelObject | undefined;
  let depth = 0;
  const bad = (what: string, todo = EXPORT_AGAIN): never =>
    refuse(file, `${quoted(part)} line ${parser.line}`, what, todo);
  const number = (attributes: Record<string, string>, key: string): number => {
    const text = attributes[key];
    if (text === undefined) bad(`the attribute "${key}" is missing`);
    const ascii = encoder.encode(text.trim());
    const value = parseDecimal(ascii, 0, ascii.length);
    if (Number.isNaN(value)) bad(`${key} is ${quoted(text)} and not a number`);
    return value;
  };
  const index = (attributes: Record<string, string>, key: string): number => {
    const value = number(attributes, key);
    if (!Number.isInteger(value) || value < 0 || value > 0xfffffffe) bad(`${key} is not a vertex number`);
    return value;
  };
  const component = (attributes: Record<string, string>): ModelComponent => {
    const id = attributes.objectid ?? bad('the attribute "objectid" is missing');
    const path = Object.entries(attributes).find(([name]) => name.endsWith(':path'))?.[1];
    const target = path === undefined ? part : path.replace(/^\/+/, '').toLowerCase();
    if (target !== part) model.otherParts.add(target);
    const transform = attributes.transform?.trim().split(/\s+/).map(Number);
    if (transform && (transform.length !== 12 || !transform.every(Number.isFinite))) {
      bad(`the transform ${quoted(attributes.transform)} is not twelve numbers`);
    }
    return { object: `${target}#${id}`, ...(transform ? { transform } : {}) };
  };
  parser.on('doctype', () => bad('it has a document type, which is not allowed in 3MF'));
  parser.on('error', (error) =>
    bad(`it is not well-formed XML (${error.message.replace(/^\d+:\d+: /, '')})`),
  );
  parser.on('closetag', (tag) => {
    depth--;
    if (localName(tag.name) === 'object') object = undefined;
    if (metadata !== undefined && model.metadata.length < MOST_METADATA)
      model.metadata.push(metadata.slice(0, LONGEST_METADATA));
    metadata = undefined;
  });
  parser.on('text', (text) => {
    if (metadata !== undefined && metadata.length < LONGEST_METADATA) metadata += text;
  });
  parser.on('opentag', (tag) => {
    const attributes: Record<string, string> = tag.attributes;
    if (depth++ > 64) bad('its elements are nested too deep');
    switch (localName(tag.name)) {
      case 'model': {
        const unit = attributes.unit ?? 'millimeter';
        if (!Object.hasOwn(UNITS, unit)) bad(`the unit ${quoted(unit)} is not known`);
        model.unitMm = UNITS[unit];
        for (const prefix of (attributes.requiredextensions ?? '').split(/\s+/).filter(Boolean)) {
          if (attributes[`xmlns:${prefix}`] !== PRODUCTION) {
            bad(
              `it requires the extension ${quoted(attributes[`xmlns:${prefix}`] ?? prefix)}, which is not read`,
            );
          }
        }
        break;
      }
      case 'object': {
        const id = attributes.id ?? bad('an object without id');
        const key = `${part}#${id}`;
        if (model.objects.has(key)) bad(`the object id ${quoted(id)} appears twice`);
        if (model.objects.size >= MOST_OBJECTS)
          bad(`it has more than ${MOST_OBJECTS} objects`, 'Split the file');
        object = {
          key,
          name: plainName(attributes.name ?? ''),
          type: attributes.type ?? 'model',
          components: [],
        };
        model.objects.set(key, object);
        break;
      }
      case 'metadata':
        metadata = `${attributes.name ?? ''}: `;
        break;
      case 'mesh':
        if (object) object.mesh ??= new MeshBuilder(file);
        break;
      case 'vertex':
        object?.mesh?.vertex(
          number(attributes, 'x'),
          number(attributes, 'y'),
          number(attributes, 'z'),
          () => {
            return `${quoted(part)} line ${parser.line}`;
          },
        );
        break;
      case 'triangle':
        object?.mesh?.triangle(index(attributes, 'v1'), index(attributes, 'v2'), index(attributes, 'v3'));
        break;
      case 'component':
        if (object && object.components.push(component(attributes)) > MOST_OBJECTS) {
          bad(`an object of more than ${MOST_OBJECTS} components`);
        }
        break;
      case 'item':
        if (model.items.push(component(attributes)) > MOST_OBJECTS)
          bad(`more than ${MOST_OBJECTS} build items`);
    }
  });
  return {
    write: (text) => {
      parser.write(text);
    },
    end: () => {
      parser.close();
      return model;
    },
  };
}

function localName(name: string): string {
  return name.slice(name.indexOf(':') + 1);
}
