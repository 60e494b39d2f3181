// The toolkit as a library: a whole plan, and its parts alone. Run in the package's folder: node examples/library.mjs
import { computeShunt, fitDevice, loadRules, measureCase, planCase, readShelf } from 'pavm-planner';

// a case folder to the value of result.json, in memory
const plan = await planCase('cases/plover');
console.log(`shunt ${(100 * plan.shunt.fraction).toFixed(1)} %, advice: ${plan.readiness.recommended}`);

// blood gases alone
const rules = loadRules();
const sample = {
  name: 'on-oxygen',
  when: 'before',
  site: 'arterial',
  fio2: 1,
  po2MmHg: 210,
  pco2MmHg: 34,
  path: 'gases[0]',
};
const { shunt } = computeShunt({ samples: [sample], when: 'before', haemoglobinGDl: 15 }, rules);
console.log(`by these gases ${(100 * shunt.fraction).toFixed(1)} %, assumed: ${shunt.assumed.join('; ')}`);

// the surfaces of a case, measured
const { lesion } = await measureCase('cases/plover');
for (const { name, role, calibreMm } of lesion.vessels)
  console.log(`${name} (${role}): ${calibreMm.mean.toFixed(1)} mm`);

// one device
const shelf = await readShelf('cases/plover/shelf.yaml');
const { device } = fitDevice({ feeder: { name: 'A1', calibreMm: 6.8, zoneLengthMm: 12 }, shelf, rules });
console.log(`A1: ${device.code}, ${device.oversize_percent.toFixed(0)} % over`);
