import { SaxesParser } from 'saxes';
import { quoted } from '../../foundation/quoted-text.js';
import { MeshBuilder } from './mesh-builder.js';
import { EXPORT_AGAIN, MOST_OBJECTS, plainName, refuse } from './mesh-file.js';
import { parseDecimal } from './text-scanner.js';

export interface ModelComponent {
  /** `PART#ID` of the referenced object. */
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
  /** Parts of the package that contain components and items. */
  otherParts: Set<string>;
  /** `NAME: TEXT` of each metadata element, truncated. */
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
 * Reads one model part of a 3MF package, fed as text in pieces. Document types (and thus entities) are rejected. Only meshes, components,
 * build items, names and the unit are read.
 */
export function modelReader(file: string, part: string): { write(text: string): void; end(): Model } {
  const parser = new SaxesParser({ xmlns: false });
  const place = (): string => `${quoted(part)} line ${parser.line}`;
  const elements = new ModelElements(file, part, place);
  parser.on('doctype', () => elements.bad('it has a document type, which is not allowed in 3MF'));
  parser.on('error', (error) =>
    elements.bad(`it is not well-formed XML (${error.message.replace(/^\d+:\d+: /, '')})`),
  );
  parser.on('opentag', (tag) => elements.open(localName(tag.name), tag.attributes));
  parser.on('closetag', (tag) => elements.close(localName(tag.name)));
  parser.on('text', (text) => elements.text(text));
  return {
    write: (text) => {
      parser.write(text);
    },
    end: () => {
      parser.close();
      return elements.model;
    },
  };
}

type Attributes = Record<string, string>;

/** Builds the model from its elements as they open and close. */
class ModelElements {
  readonly model: Model = {
    unitMm: 1,
    objects: new Map(),
    items: [],
    otherParts: new Set(),
    metadata: [],
  };
  private metadata: string | undefined;
  private object: ModelObject | undefined;
  private depth = 0;

  private readonly file: string;
  private readonly part: string;
  private readonly place: () => string;

  constructor(file: string, part: string, place: () => string) {
    this.file = file;
    this.part = part;
    this.place = place;
  }

  bad(what: string, todo = EXPORT_AGAIN): never {
    return refuse(this.file, this.place(), what, todo);
  }

  open(name: string, attributes: Attributes): void {
    if (this.depth++ > 64) this.bad('its elements are nested too deep');
    const { object, model } = this;
    switch (name) {
      case 'model':
        this.openModel(attributes);
        break;
      case 'object':
        this.openObject(attributes);
        break;
      case 'metadata':
        this.metadata = `${attributes.name ?? ''}: `;
        break;
      case 'mesh':
        if (object) object.mesh ??= new MeshBuilder(this.file);
        break;
      case 'vertex':
        object?.mesh?.vertex(
          this.number(attributes, 'x'),
          this.number(attributes, 'y'),
          this.number(attributes, 'z'),
          this.place,
        );
        break;
      case 'triangle':
        object?.mesh?.triangle(
          this.index(attributes, 'v1'),
          this.index(attributes, 'v2'),
          this.index(attributes, 'v3'),
        );
        break;
      case 'component':
        if (object && object.components.push(this.component(attributes)) > MOST_OBJECTS)
          this.bad(`an object of more than ${MOST_OBJECTS} components`);
        break;
      case 'item':
        if (model.items.push(this.component(attributes)) > MOST_OBJECTS)
          this.bad(`more than ${MOST_OBJECTS} build items`);
    }
  }

  close(name: string): void {
    this.depth--;
    if (name === 'object') this.object = undefined;
    if (this.metadata !== undefined && this.model.metadata.length < MOST_METADATA)
      this.model.metadata.push(this.metadata.slice(0, LONGEST_METADATA));
    this.metadata = undefined;
  }

  text(text: string): void {
    if (this.metadata !== undefined && this.metadata.length < LONGEST_METADATA) this.metadata += text;
  }

  private openModel(attributes: Attributes): void {
    const unit = attributes.unit ?? 'millimeter';
    if (!Object.hasOwn(UNITS, unit)) this.bad(`the unit ${quoted(unit)} is not known`);
    this.model.unitMm = UNITS[unit];
    for (const prefix of (attributes.requiredextensions ?? '').split(/\s+/).filter(Boolean)) {
      const extension = attributes[`xmlns:${prefix}`];
      if (extension !== PRODUCTION)
        this.bad(`it requires the extension ${quoted(extension ?? prefix)}, which is not read`);
    }
  }

  private openObject(attributes: Attributes): void {
    const { objects } = this.model;
    const id = attributes.id ?? this.bad('an object without id');
    const key = `${this.part}#${id}`;
    if (objects.has(key)) this.bad(`the object id ${quoted(id)} appears twice`);
    if (objects.size >= MOST_OBJECTS) this.bad(`it has more than ${MOST_OBJECTS} objects`, 'Split the file');
    this.object = {
      key,
      name: plainName(attributes.name ?? ''),
      type: attributes.type ?? 'model',
      components: [],
    };
    objects.set(key, this.object);
  }

  private component(attributes: Attributes): ModelComponent {
    const id = attributes.objectid ?? this.bad('the attribute "objectid" is missing');
    const path = Object.entries(attributes).find(([name]) => name.endsWith(':path'))?.[1];
    const target = path === undefined ? this.part : path.replace(/^\/+/, '').toLowerCase();
    if (target !== this.part) this.model.otherParts.add(target);
    const transform = attributes.transform?.trim().split(/\s+/).map(Number);
    if (transform && (transform.length !== 12 || !transform.every(Number.isFinite)))
      this.bad(`the transform ${quoted(attributes.transform)} is not twelve numbers`);
    return { object: `${target}#${id}`, ...(transform ? { transform } : {}) };
  }

  private number(attributes: Attributes, key: string): number {
    const text = attributes[key];
    if (text === undefined) this.bad(`the attribute "${key}" is missing`);
    const ascii = encoder.encode(text.trim());
    const value = parseDecimal(ascii, 0, ascii.length);
    if (Number.isNaN(value)) this.bad(`${key} is ${quoted(text)} and not a number`);
    return value;
  }

  private index(attributes: Attributes, key: string): number {
    const value = this.number(attributes, key);
    if (!Number.isInteger(value) || value < 0 || value > 0xfffffffe)
      this.bad(`${key} is not a vertex number`);
    return value;
  }
}

function localName(name: string): string {
  return name.slice(name.indexOf(':') + 1);
}
