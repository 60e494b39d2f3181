import { spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import { summaryIn, writeCases } from './make-batch.js';

vi.setConfig({ testTimeout: 180_000 });

const root = fileURLToPath(new URL('../../', import.meta.url));
const text = (name: string): string => readFileSync(join(root, name), 'utf8');
const base = mkdtempSync(join(tmpdir(), 'pavm-image-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

const { version, files } = JSON.parse(text('package.json'));
const IMAGE = `pavm-planner:${version}`;

/** Instructions of a Dockerfile with continued lines joined, without comments. */
const instructions = text('examples/Dockerfile')
  .replace(/\\\n/g, ' ')
  .split('\n')
  .filter((line) => line.trim() !== '' && !line.startsWith('#'))
  .map((line) => {
    const [, word, rest] = /^([A-Z]+) (.+)$/.exec(line) ?? expect.fail(`no instruction: ${line}`);
    return { word, rest };
  });

describe('the Dockerfile', () => {
  it('uses known instructions, pinned images and named stages', () => {
    const known = ['FROM', 'WORKDIR', 'COPY', 'RUN', 'USER', 'ENTRYPOINT', 'CMD'];
    const stages: string[] = [];
    for (const { word, rest } of instructions) {
      expect(known).toContain(word);
      if (word === 'FROM') {
        const [, tag, , stage] = /^\w+:([\w.-]+)( AS (\w+))?$/.exec(rest) ?? expect.fail(rest);
        expect(tag).toMatch(/^20-/);
        if (stage) stages.push(stage);
      }
      const from = /--from=(\w+)/.exec(rest)?.[1];
      if (word === 'COPY' && from) expect(stages).toContain(from);
      if (word === 'WORKDIR') expect(rest).toMatch(/^\//);
      if (word === 'ENTRYPOINT' || word === 'CMD') expect(Array.isArray(JSON.parse(rest))).toBe(true);
    }
  });

  it('runs unprivileged at the end, and states the version of the package', () => {
    const last = instructions.slice(instructions.map(({ word }) => word).lastIndexOf('FROM'));
    expect(last.filter(({ word }) => word === 'USER')).toEqual([{ word: 'USER', rest: 'node' }]);
    const after = last.slice(last.findIndex(({ word }) => word === 'USER'));
    expect(after.some(({ word }) => word === 'RUN' || word === 'COPY')).toBe(false);
    expect(text('examples/Dockerfile')).toContain(`-t ${IMAGE} .`);
  });

  it('keeps build output and anything that may contain patients out of the build', () => {
    const ignored = text('examples/Dockerfile.dockerignore').split('\n');
    for (const name of ['.git', 'node_modules', 'dist', '**/plan', '**/plans'])
      expect(ignored).toContain(name);
  });

  it('copies exactly what the program needs, which plans a batch without any development library', () => {
    const copied = instructions.flatMap(({ word, rest }) => {
      const match = /^--from=build \/src\/(\S+) \.\/(\S*)$/.exec(rest);
      return word === 'COPY' && match ? [match[1]] : [];
    });
    expect(copied.sort()).toEqual(['bin', 'dist', 'node_modules', 'package.json']);
    for (const name of ['bin', 'dist']) expect(files).toContain(name);
    const image = join(base, 'opt');
    mkdirSync(image);
    for (const name of ['bin', 'dist', 'package.json'])
      cpSync(join(root, name), join(image, name), { recursive: true });
    for (const [path, entry] of Object.entries<{ dev?: boolean }>(
      JSON.parse(text('package-lock.json')).packages,
    )) {
      if (!/^node_modules\/(@[^/]+\/)?[^/]+$/.test(path) || entry.dev || !existsSync(join(root, path)))
        continue;
      mkdirSync(dirname(join(image, path)), { recursive: true });
      symlinkSync(join(root, path), join(image, path));
    }
    const cases = writeCases(join(base, 'cases'), 2, 1);
    const out = join(base, 'plans');
    const run = spawnSync(process.execPath, [join(image, 'bin', 'pavm'), 'batch', ...cases, '--out', out], {
      encoding: 'utf8',
    });
    expect([run.status, summaryIn(out).done]).toEqual([0, 2]);
  });
});

/**
 * Fields of the Kubernetes API that the example uses (reference of batch/v1 and core/v1, from memory), so that none is
 * misspelt.
 */
const FIELDS: Record<string, string[]> = {
  '': ['apiVersion', 'kind', 'metadata', 'spec'],
  metadata: ['name', 'labels', 'annotations', 'namespace'],
  spec: [
    'completionMode',
    'completions',
    'parallelism',
    'backoffLimit',
    'template',
    'ttlSecondsAfterFinished',
  ],
  'spec.template': ['metadata', 'spec'],
  'spec.template.spec': [
    'restartPolicy',
    'automountServiceAccountToken',
    'securityContext',
    'containers',
    'volumes',
  ],
  'spec.template.spec.securityContext': ['runAsNonRoot', 'runAsUser', 'runAsGroup', 'fsGroup'],
  'spec.template.spec.containers[]': [
    'name',
    'image',
    'command',
    'args',
    'env',
    'resources',
    'securityContext',
    'volumeMounts',
  ],
  'spec.template.spec.containers[].env[]': ['name', 'value'],
  'spec.template.spec.containers[].resources': ['requests', 'limits'],
  'spec.template.spec.containers[].resources.requests': ['cpu', 'memory'],
  'spec.template.spec.containers[].resources.limits': ['cpu', 'memory'],
  'spec.template.spec.containers[].securityContext': [
    'allowPrivilegeEscalation',
    'readOnlyRootFilesystem',
    'capabilities',
  ],
  'spec.template.spec.containers[].securityContext.capabilities': ['drop'],
  'spec.template.spec.containers[].volumeMounts[]': ['name', 'mountPath', 'readOnly'],
  'spec.template.spec.volumes[]': ['name', 'persistentVolumeClaim'],
  'spec.template.spec.volumes[].persistentVolumeClaim': ['claimName', 'readOnly'],
};

function checkFields(value: unknown, path: string): void {
  if (Array.isArray(value)) for (const item of value) checkFields(item, `${path}[]`);
  else if (typeof value === 'object' && value !== null) {
    const known = FIELDS[path] ?? expect.fail(`${path} holds fields`);
    for (const [key, item] of Object.entries(value)) {
      expect(known, path).toContain(key);
      checkFields(item, path === '' ? key : `${path}.${key}`);
    }
  }
}

describe('the Kubernetes job', () => {
  const job = parse(text('examples/kubernetes-job.yaml'));
  const [container] = job.spec.template.spec.containers;

  it('has no field unknown to the API', () => checkFields(job, ''));

  it('has values of the right form', () => {
    // names by RFC 1123; quantities as Kubernetes writes them; an Indexed Job's pods must not restart as Always
    for (const name of [
      job.metadata.name,
      container.name,
      ...job.spec.template.spec.volumes.map((v: { name: string }) => v.name),
    ])
      expect(name).toMatch(/^[a-z0-9]([-a-z0-9]{0,61}[a-z0-9])?$/);
    for (const amounts of Object.values<Record<string, string>>(container.resources))
      for (const amount of Object.values(amounts)) expect(amount).toMatch(/^\d+(\.\d+)?(m|[KMGT]i?)?$/);
    for (const { value } of container.env) expect(typeof value).toBe('string');
    for (const key of ['completions', 'parallelism', 'backoffLimit'])
      expect(Number.isInteger(job.spec[key])).toBe(true);
    expect(['Never', 'OnFailure']).toContain(job.spec.template.spec.restartPolicy);
    expect(container.image).toBe(IMAGE);
    expect(spawnSync('bash', ['-n'], { input: container.args[0] }).status).toBe(0);
  });

  it('requests as many processors as it starts jobs, and writes only to volumes', () => {
    expect(container.args[0]).toContain(`--jobs ${container.resources.requests.cpu} `);
    const { mountPath } = container.volumeMounts[0];
    for (const name of ['CASES', 'OUT'])
      expect(container.env.find((one: { name: string }) => one.name === name).value).toMatch(
        new RegExp(`^${mountPath}/`),
      );
  });
});
