// Replaces Intl.NumberFormat in the joined chart library, which creates one when it is loaded: the engine then reads its language tables
// (about 10 ms), although an axis whose ticks have their own format never needs it.
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
