/** What in a file may say who the patient is. Fields are named; what they hold is never kept. */
export interface Identity {
  /** Fields that identify a patient or lead to one. */
  by: string[];
  /** Free texts without a sign of an identifier: only a reader can judge them. */
  freeText: string[];
}
