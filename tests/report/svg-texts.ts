import { SaxesParser } from 'saxes';

export interface SvgElement {
  name: string;
  attributes: Record<string, string>;
  text: string;
}

/** A line of text in a figure with its bounding box, px. */
export interface TextBox {
  text: string;
  /** The anchor. */
  x: number;
  y: number;
  anchor: string;
  turned: boolean;
  left: number;
  right: number;
  top: number;
  bottom: number;
}

interface State {
  origin: { x: number; y: number };
  x: number;
  y: number;
  size: number;
  anchor: string;
  turned: boolean;
}

/** Reads a figure with a strict XML parser that shares no code with the writer. */
export function elementsOf(svg: string): SvgElement[] {
  return read(svg, 0.6).elements;
}

/**
 * The lines of text in a figure; `letter` is the mean width of a letter over the font size: 0.6 is wide, 0.52 close to a
 * common sans-serif face.
 */
export function textBoxes(svg: string, letter = 0.6): TextBox[] {
  return read(svg, letter).boxes;
}

function read(svg: string, letter: number): { elements: SvgElement[]; boxes: TextBox[] } {
  const elements: SvgElement[] = [];
  const boxes: TextBox[] = [];
  const open: { element: SvgElement; state: State }[] = [];
  const parser = new SaxesParser();
  parser.on('error', (error) => {
    throw error;
  });
  parser.on('opentag', (tag) => {
    const attributes = tag.attributes as Record<string, string>;
    const element = { name: tag.name, attributes, text: '' };
    elements.push(element);
    const state = stateOf(
      attributes,
      open.at(-1)?.state ?? { origin: { x: 0, y: 0 }, x: 0, y: 0, size: 13, anchor: 'start', turned: false },
      tag.name,
    );
    open.push({ element, state });
  });
  parser.on('text', (text) => {
    const last = open.at(-1);
    if (last) last.element.text += text;
  });
  parser.on('closetag', () => {
    const { element, state } = open.pop()!;
    if (!['text', 'tspan'].includes(element.name) || element.text.trim() === '') return;
    const { text } = element;
    const { x, y, size, anchor, turned } = state;
    const wide = [...text].length * size * letter;
    const left = x - (anchor === 'start' ? 0 : anchor === 'end' ? wide : wide / 2);
    boxes.push({
      text,
      x,
      y,
      anchor,
      turned,
      left,
      right: left + wide,
      top: y - 0.8 * size,
      bottom: y + 0.2 * size,
    });
  });
  parser.write(svg).close();
  return { elements, boxes };
}

function stateOf(attributes: Record<string, string>, above: State, name: string): State {
  const size = Number(attributes['font-size'] ?? above.size);
  const length = (key: string): number => {
    const value = attributes[key] ?? '0';
    return value.endsWith('em') ? Number(value.slice(0, -2)) * size : Number(value);
  };
  const moved = /translate\(([-\d.]+)[, ]+([-\d.]+)\)/.exec(attributes.transform ?? '');
  const origin = { x: above.origin.x + Number(moved?.[1] ?? 0), y: above.origin.y + Number(moved?.[2] ?? 0) };
  const state: State = {
    origin,
    // A line of text stands below the previous line unless it says where.
    x: attributes.x === undefined ? above.x : origin.x + length('x'),
    y: attributes.y === undefined ? above.y + length('dy') : origin.y + length('y'),
    size,
    anchor: attributes['text-anchor'] ?? above.anchor,
    turned: above.turned || (attributes.transform ?? '').includes('rotate'),
  };
  if (name === 'text') {
    state.x = origin.x + length('x');
    state.y = origin.y + length('y');
  }
  if (name === 'tspan') above.y = state.y;
  return state;
}
