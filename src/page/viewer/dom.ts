/// <reference lib="dom" />
/// <reference lib="dom.iterable" />

/** The element with an id that the page always has; throws if it is missing, which is a defect of the page. */
export function byId<T extends Element = HTMLElement>(id: string): T {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no #${id}`);
  return found as unknown as T;
}

/** Every element with a data attribute, and the attribute's value. */
export const allWith = <T extends HTMLElement>(name: string): (readonly [T, string])[] =>
  [...document.querySelectorAll<T>(`[data-${name}]`)].map((one) => [one, one.dataset[name] ?? ''] as const);

/** A new element with a class and a text; the text is never parsed as markup. */
export function made<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  className: string,
  text = '',
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  element.className = className;
  element.textContent = text;
  return element;
}

/** A new SVG element with attributes. */
export function drawn(
  tag: string,
  attributes: Readonly<Record<string, string | number>>,
  text?: string,
): SVGElement {
  const element = document.createElementNS('http://www.w3.org/2000/svg', tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  if (text !== undefined) element.textContent = text;
  return element;
}

/** Announces a text to screen readers through the polite live region. */
export function say(text: string): void {
  byId('said').textContent = text;
}

/** Marks one button of a group as the pressed one. */
export function press(buttons: Iterable<HTMLElement>, pressed: HTMLElement | undefined): void {
  for (const button of buttons) button.setAttribute('aria-pressed', String(button === pressed));
}
