/** Fields of a file that may identify the patient. Only field names are kept, never their content. */
export interface Identity {
  /** Fields that identify a patient directly or indirectly. */
  by: string[];
  /** Free texts without a sign of an identifier, which only a reader can judge. */
  freeText: string[];
}
