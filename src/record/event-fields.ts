/** Which fields each kind of event has in events.jsonl, in the order in which they are written. */
import type { BenchEvent } from '../files/event.js'

export type EventKind = BenchEvent['kind']

export type FieldType = 'text' | 'number' | 'truth' | 'number or null'

type FieldsOf<K extends EventKind> = {
  [F in Exclude<keyof Extract<BenchEvent, { kind: K }>, 'kind' | 't'>]: FieldType
}

/** Without `kind` and `t`, which every event has. Ticks are not listed: they have a writer and a check of their own. */
export const EVENT_FIELDS: { readonly [K in Exclude<EventKind, 'tick'>]: FieldsOf<K> } = {
  begin: { rig: 'text', scenario: 'text', seed: 'number' },
  stage: { stage: 'text' },
  command: { surge: 'number', yaw: 'number' },
  craft: { x: 'number', y: 'number', heading: 'number', surge: 'number', sway: 'number', yaw: 'number' },
  fault: { fault: 'text', place: 'text', begins: 'truth' },
  operator: { action: 'text' },
  hold: { held: 'truth' },
  gate: { place: 'text', quantity: 'text', value: 'number', limit: 'number', unit: 'text' },
  driver: { code: 'text', place: 'text', says: 'text' },
  silenced: { says: 'text' },
  asked: { n: 'number' },
  answered: { n: 'number', changed: 'truth' },
  said: { says: 'text' },
  rejoined: { says: 'text' },
  withheld: { begins: 'truth' },
  refusal: { place: 'text', says: 'text', expected: 'text', found: 'text' },
  notice: { place: 'text', says: 'text' },
  identity: { place: 'text', drive: 'text' },
  contact: { place: 'text', contact: 'text' },
  unchecked: { place: 'text', says: 'text' },
  stop: { source: 'text', place: 'text', category: 'number', says: 'text' },
  escalation: { source: 'text', place: 'text', category: 'number', says: 'text' },
  gap: { place: 'text', frames: 'number' },
  withdrawn: { place: 'text', frames: 'number' },
  bus: {
    state: 'text',
    trouble: 'text',
    place: 'text',
    transmitErrors: 'number or null',
    receiveErrors: 'number or null',
    says: 'text',
  },
  process: { bench: 'text', guardian: 'text', says: 'text' },
  arms: { arms: 'text', says: 'text' },
  standstill: { times: 'number', longest: 'number' },
  lost: { frames: 'number', ticks: 'number' },
  refused: { what: 'text' },
  release: {},
  reset: {},
  finding: {
    watch: 'text',
    severity: 'text',
    place: 'text',
    quantity: 'text',
    value: 'number',
    limit: 'number',
    unit: 'text',
    says: 'text',
    why: 'text',
    look: 'text',
    stop: 'number or null',
  },
  end: { reason: 'text' },
}

/** Parts of a radian in which ticks carry positions, finer than one count of a 20-bit encoder; and of what else the bench rounds. */
const PARTS = 1e6

/**
 * A position as a tick in events.jsonl carries it, to 1e-6 rad. A running bench puts its ticks' positions through this,
 * so that its watches see exactly what a judge will read.
 */
export function recordedNumber(value: number): number {
  // Adding zero turns -0, which JSON does not keep, into 0.
  return Math.round(value * PARTS) / PARTS + 0
}
