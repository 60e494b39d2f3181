import { resultSchema, type SchemaNode } from '../report/result-schema.js';
import type { PathStep } from '../result/value-path.js';

/** Whether a result has a count at `steps`, that is, an integer in its schema. A count is right or wrong, never near. */
export function isCount(steps: readonly PathStep[]): boolean {
  const root = resultSchema();
  let node: SchemaNode | undefined = root;
  for (const step of steps) {
    node = resolved(node, root);
    node = typeof step === 'number' ? node?.items : propertyOf(node, step);
  }
  return resolved(node, root)?.type === 'integer';
}

function resolved(node: SchemaNode | undefined, root: SchemaNode): SchemaNode | undefined {
  return node?.$ref === undefined ? node : root.$defs?.[node.$ref.replace('#/$defs/', '')];
}

function propertyOf(node: SchemaNode | undefined, name: string): SchemaNode | undefined {
  if (node?.properties && Object.hasOwn(node.properties, name)) return node.properties[name];
  return typeof node?.additionalProperties === 'object' ? node.additionalProperties : undefined;
}
