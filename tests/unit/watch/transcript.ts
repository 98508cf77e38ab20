/**
 * A bench on paper: cycles of SYNC, command, setpoints, tick and feedback in the order in which a bench makes them, shown to one watch.
 * Cycle k is at k periods; feedback of joint j comes 300 us + 50 us j after its SYNC.
 */
import type { Finding, StopCategory } from '../../../src/files/event.js'
import type { Rig } from '../../../src/files/rig.js'
import { createWatches } from '../../../src/watch/all.js'
import type { WatchSettings } from '../../../src/watch/settings.js'
import type { Observation, Watch } from '../../../src/watch/watch.js'
import { PERIOD, type RigChanges, rig as rigOf, scenario } from './rig.js'

export const NS = PERIOD * 1e9

export interface Cycle {
  /** rad; null: none is sent */
  readonly setpoint?: (joint: number, k: number) => number | null
  /** rad; null: no frame; a list: several frames */
  readonly feedback?: (joint: number, k: number) => number | null | readonly number[]
  /** rad, or null: no witness */
  readonly witness?: ((joint: number, k: number) => number) | null
  readonly tick?: boolean
  /** rad, as the bench's driver gave it with the tick; left out: there is no such driver */
  readonly given?: (joint: number) => number
  /** Of the first of these cycles: a command comes behind its SYNC, and before its feedback. */
  readonly command?: { readonly surge: number; readonly yaw: number } | null
}

export class Transcript {
  k = 0
  readonly rig: Rig<WatchSettings>
  readonly #see: (o: Observation) => void

  constructor(rig: Rig<WatchSettings>, see: (o: Observation) => void) {
    this.rig = rig
    this.#see = see
  }

  /** ns, time of the cycle that comes next */
  get t(): number {
    return Math.round(this.k * NS)
  }

  see(o: Observation): this {
    this.#see(o)
    return this
  }

  stage(stage: Extract<Observation, { kind: 'stage' }>['stage']): this {
    return this.see({ kind: 'stage', t: this.t, stage })
  }

  stop(source = 'operator', place = '', category: StopCategory = 1): this {
    return this.see({ kind: 'stop', t: this.t, source, place, category, says: '' })
  }

  command(surge: number, yaw = 0): this {
    return this.see({ kind: 'command', t: this.t, surge, yaw })
  }

  cycles(
    count: number,
    { setpoint, feedback, witness = null, tick = true, given, command = null }: Cycle,
  ): this {
    const { joints, buses } = this.rig
    const from = this.k
    for (const end = from + count; this.k < end; this.k++) {
      const { k, t } = this
      for (const { index: bus } of buses) {
        this.see({ kind: 'frame', t, bus, id: 0x80, sent: true, bits: 51 })
        this.see({ kind: 'sync', t, bus, index: k })
      }
      if (command !== null && k === from) this.command(command.surge, command.yaw)
      for (const { index: joint } of joints) {
        const position = setpoint?.(joint, k) ?? null
        if (position !== null) this.see({ kind: 'setpoint', t, joint, index: k + 1, position })
      }
      const truth = witness === null ? null : joints.map((j) => witness(j.index, k))
      const setpoints = given ? joints.map((j) => given(j.index)) : null
      if (tick) this.see({ kind: 'tick', t, k, late: 0, setpoints, witness: truth })
      for (const { index: joint, wire } of joints) {
        const at = t + 300_000 + 50_000 * joint
        const positions = feedback?.(joint, k) ?? null
        if (positions === null) continue
        for (const position of [positions].flat()) {
          this.see({ kind: 'frame', t: at, bus: wire.bus, id: 0x180 + wire.node, sent: false, bits: 120 })
          this.see({ kind: 'feedback', t: at, joint, index: k, position, torque: 0 })
        }
      }
    }
    return this
  }
}

/** One watch with its transcript; `findings` fills as the transcript goes on. */
export function watching(name: keyof WatchSettings, changes: RigChanges = {}) {
  const findings: Finding[] = []
  const rig = rigOf(changes)
  const watch: Watch = createWatches(rig, scenario(), (f) => findings.push(f)).list.find(
    (w) => w.name === name,
  )!.watch
  const kinds = new Set<string>(watch.kinds)
  const run = new Transcript(rig, (o) => {
    if (kinds.has(o.kind)) watch.see(o)
  })
  const figure = (place: string, figureName: string): number => {
    const found = watch.figures().find((f) => f.place === place && f.name === figureName)
    if (found === undefined) throw new Error(`no figure ${figureName} at ${place}`)
    return found.value
  }
  return { run, watch, findings, figure, rig }
}

/** Findings in short: watch-free, for comparison. */
export function told(findings: readonly Finding[]): string[] {
  return findings.map((f) => `${f.severity} ${f.place} ${f.quantity}`)
}
