// Stands in for Intl.NumberFormat in the joined chart library, which makes one when it is loaded: the engine then reads its tables of
// languages (some 10 ms), though an axis whose ticks have a format of their own never asks for it.
export class NumberFormatLater {
  #made;
  #arguments;

  constructor(...list) {
    this.#arguments = list;
  }

  format(value) {
    this.#made ??= new globalThis.Intl.NumberFormat(...this.#arguments);
    return this.#made.format(value);
  }
}
