import { numberOf, type Rules } from '../../rules/rule.js';
import type { RegistrationRules } from './register-surfaces.js';

/** The limits of a registration, from the rules in force. */
export function registrationRules(rules: Pick<Rules, 'byId'>): RegistrationRules {
  const of = (id: string): number => numberOf(rules, id);
  return {
    reach: of('register-reach'),
    leastOverlap: of('register-least-overlap'),
    leastCovered: of('register-least-covered'),
    asGood: of('register-as-good'),
    distinct: of('register-distinct'),
    mirror: of('register-mirror'),
    otherSize: of('register-other-size'),
  };
}
