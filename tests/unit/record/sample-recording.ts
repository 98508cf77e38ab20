/** A small made-up run: frames of every shape, one event of every kind, in an order that interleaves them. */
import { mkdtempSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { BenchEvent } from '../../../src/files/event.js'
import type { Provenance } from '../../../src/record/provenance.js'
import type { ReplaySink } from '../../../src/record/read.js'
import { type RecordingContents, RecordingWriter } from '../../../src/record/write.js'
import type { Frame } from '../../../src/wire/frame.js'

export interface Step {
  readonly bus: number
  readonly frame: Frame
  readonly t: number
  readonly sent: boolean
}

export type Item = Step | BenchEvent

export const PROVENANCE: Provenance = {
  format: 'drystroke-provenance-1',
  started: '2024-05-01T10:00:00.000Z',
  ended: null,
  host: 'bench',
  platform: 'linux x64',
  node: 'v20.0.0',
  drystroke: '0.0.0',
  arguments: ['run', 'slow-ahead.yaml'],
  rigFile: 'rigs/reservoir-skiff.yaml',
  scenarioFile: 'scenarios/slow-ahead.yaml',
  arms: 'simulated',
}

export const CONTENTS: RecordingContents = {
  rigText: 'name: reservoir-skiff # ä\n',
  scenarioText: 'name: slow-ahead\n',
  buses: [
    { name: 'port-can', bitrate: 1e6 },
    { name: 'starboard-can', bitrate: 500e3 },
  ],
  provenance: PROVENANCE,
}

const frame = (id: number, bytes: number[], extended = false, remote = false): Frame => ({
  id,
  extended,
  remote,
  data: Uint8Array.from(bytes),
})

/** In the order in which they happen. */
export const ITEMS: readonly Item[] = [
  { kind: 'begin', t: 0, rig: 'reservoir-skiff', scenario: 'slow-ahead', seed: 7 },
  { kind: 'stage', t: 0, stage: 'setup' },
  { bus: 0, frame: frame(0x000, [1, 0]), t: 1000, sent: true },
  { bus: 1, frame: frame(0x080, []), t: 1000, sent: true },
  { kind: 'command', t: 2000, surge: 0.3, yaw: -0.1 - 0.2 },
  { bus: 0, frame: frame(0x18b, [1, 2, 3, 4, 5, 6, 7, 8]), t: 5_000_000_123, sent: false },
  {
    kind: 'tick',
    t: 5_000_000_200,
    k: 3,
    late: -12,
    setpoints: [0.1, -0, -1.234567, 1e-6, 0, 3],
    witness: [12.000001, -0.5, 0.000012, 100, -1e-6, 2],
  },
  { kind: 'tick', t: 5_000_000_300, k: 4, late: 0, setpoints: null, witness: null },
  { kind: 'tick', t: 5_000_000_400, k: 5, late: 7, setpoints: [Number.NaN, 5e9], witness: [-Infinity, 1] },
  { bus: 1, frame: frame(0x1abcdef0, [0xff], true), t: 2 ** 33 + 1, sent: false },
  { bus: 1, frame: frame(0x18c, [1, 2, 3, 4, 5]), t: 2 ** 33 + 2, sent: false },
  { bus: 1, frame: frame(0x7ff, [], false, true), t: 2 ** 52, sent: true },
  { kind: 'fault', t: 2 ** 52, fault: 'silent', place: 'port.elbow', begins: true },
  { kind: 'operator', t: 2 ** 52, action: 'stop' },
  {
    kind: 'gate',
    t: 2 ** 52,
    place: 'port.elbow',
    quantity: 'position',
    value: Number.NaN,
    limit: 2,
    unit: 'rad',
  },
  { kind: 'driver', t: 2 ** 52, code: 'unreachable', place: 'port', says: 'No way\nthere "ä" \u2028' },
  { kind: 'refusal', t: 2 ** 52, place: 'port.elbow', says: 'differs', expected: '8', found: '1' },
  { kind: 'stop', t: 2 ** 52, source: 'silence', place: 'port.elbow', category: 1, says: 'No feedback' },
  { kind: 'refused', t: 2 ** 52, what: 'command' },
  { kind: 'release', t: 2 ** 52 },
  { kind: 'reset', t: 2 ** 52 },
  {
    kind: 'finding',
    watch: 'silence',
    severity: 'failure',
    place: 'port.elbow',
    t: 2 ** 52,
    quantity: 'age',
    value: Number.POSITIVE_INFINITY,
    limit: 0.03,
    unit: 's',
    says: 'silent',
    why: 'blind',
    look: 'the plug',
    stop: 1,
  },
  { bus: 0, frame: frame(0x280, [9, 8, 7, 6]), t: 2 ** 52 + 1, sent: true },
  { kind: 'end', t: 2 ** 52 + 1, reason: 'stopped' },
]

export const isEvent = (item: Item): item is BenchEvent => 'kind' in item

export function scratch(): string {
  return mkdtempSync(join(tmpdir(), 'drystroke-test-'))
}

/** Writes the items into a new folder. */
export function record(items: readonly Item[] = ITEMS, contents = CONTENTS): string {
  const folder = join(scratch(), 'run')
  const writer = new RecordingWriter(folder, contents)
  for (const item of items) {
    if (isEvent(item)) writer.event(item)
    else writer.frame(item.bus, item.frame, item.t, item.sent)
  }
  writer.close()
  return folder
}

/** Takes down a replay in the shape of `ITEMS`. */
export function collector(): ReplaySink & { readonly items: Item[] } {
  const items: Item[] = []
  return {
    items,
    frame: (bus, frame, t, sent) => items.push({ bus, frame, t, sent }),
    event: (e) => items.push(e),
  }
}
