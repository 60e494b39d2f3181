/**
 * A document for the charting library to draw into. It supports what that library and d3-selection do with elements, and nothing else: no
 * styles, selectors, events or moves. Loading and filling a whole DOM takes as long as drawing the charts.
 */

const SVG = 'http://www.w3.org/2000/svg';

export class SvgElement {
  readonly ownerDocument: SvgDocument;
  readonly namespaceURI: string;
  readonly localName: string;
  readonly attributes = new Map<string, string>();
  readonly childNodes: (SvgElement | string)[] = [];

  constructor(ownerDocument: SvgDocument, namespaceURI: string, localName: string) {
    this.ownerDocument = ownerDocument;
    this.namespaceURI = namespaceURI;
    this.localName = localName;
  }

  set textContent(text: string | null) {
    this.childNodes.length = 0;
    if (text !== null && text !== '') this.childNodes.push(text);
  }

  setAttribute(name: string, value: unknown): void {
    this.attributes.set(name, String(value));
  }

  setAttributeNS(_space: string, name: string, value: unknown): void {
    this.setAttribute(name, value);
  }

  removeAttribute(name: string): void {
    this.attributes.delete(name);
  }

  appendChild(child: SvgElement): SvgElement {
    this.childNodes.push(child);
    return child;
  }

  /** `next`: null or undefined for the end. */
  insertBefore(child: SvgElement, next?: SvgElement | null): SvgElement {
    this.childNodes.splice(next ? this.childNodes.indexOf(next) : this.childNodes.length, 0, child);
    return child;
  }
}

export class SvgDocument {
  readonly documentElement = this.createElementNS(SVG, 'svg');

  createElementNS(space: string, name: string): SvgElement {
    return new SvgElement(this, space, name);
  }
}
