import type { Lobe, PartRole } from './case.js';

/** Allergies that a rule uses. Any other word is kept and shown, with a caution. */
export const KNOWN_ALLERGIES = ['nickel', 'iodinated-contrast', 'latex'] as const;

/** Roles of blood vessels that a branch can leave. */
export const VESSEL_ROLES: readonly PartRole[] = ['feeder', 'drain', 'branch', 'systemic-feeder'];

export const isVesselRole = (role: string): boolean => (VESSEL_ROLES as readonly string[]).includes(role);

/**
 * Bronchopulmonary segments by side and lobe, international numbering (Jackson and Huber, Dis Chest 1943;9:319; memory).
 * The left upper lobe includes the lingula; S1+2 and S7+8 are joined on the left.
 */
export const SEGMENTS: Readonly<Record<'left' | 'right', Partial<Record<Lobe, readonly string[]>>>> = {
  right: {
    upper: ['S1', 'S2', 'S3'],
    middle: ['S4', 'S5'],
    lower: ['S6', 'S7', 'S8', 'S9', 'S10'],
  },
  left: {
    upper: ['S1+2', 'S1', 'S2', 'S3', 'S4', 'S5'],
    lingula: ['S4', 'S5'],
    lower: ['S6', 'S7+8', 'S7', 'S8', 'S9', 'S10'],
  },
};
