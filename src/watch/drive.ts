/**
 * What the drives say of themselves: a drive that leaves operation enabled, stops following its setpoints or faults
 * without being told, and emergency messages. What a stop, the end of a run or the set-up bring about is no finding.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Stage } from '../files/event.js'
import type { DriveState } from '../wire/observation.js'
import type { WatchSettings } from './settings.js'
import { isOperation } from './tracking.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** State bits of a statusword, and what they are in operation enabled (CiA 402). */
const STATE_BITS = 0x6f
const ENABLED_BITS = 0x27
/** Different emergency codes of one joint that are told; the rest is counted. */
const CODES = 8

export class DriveWatch implements Watch {
  readonly kinds = ['state', 'emergency', 'stage', 'stop'] as const
  readonly #c: WatchContext<WatchSettings['drive']>
  readonly #states: (DriveState | null)[]
  readonly #followed: boolean[]
  readonly #left: number[]
  readonly #emergencies: number[]
  readonly #codes: Set<number>[]
  #stage: Stage | null = null
  #stopped = false

  constructor(context: WatchContext<WatchSettings['drive']>) {
    this.#c = context
    const { joints } = context.rig
    this.#states = joints.map(() => null)
    this.#followed = joints.map(() => false)
    this.#left = joints.map(() => 0)
    this.#emergencies = joints.map(() => 0)
    this.#codes = joints.map(() => new Set())
  }

  see(o: Observation): void {
    if (o.kind === 'state') this.#state(o.joint, o.state, o.follows, o.word, o.t)
    else if (o.kind === 'emergency') this.#emergency(o.joint, o.code, o.t)
    else if (o.kind === 'stop') this.#stopped = true
    else if (o.kind === 'stage') {
      this.#stage = o.stage
      if (o.stage === 'setup' || o.stage === 'seed') this.#stopped = false
    }
  }

  close(): void {}

  figures(): Figure[] {
    return this.#c.rig.joints.flatMap(({ name: place, index: j }): Figure[] => [
      { place, name: 'left operation untold', value: this.#left[j]!, unit: 'count', limit: 0 },
      { place, name: 'emergency messages', value: this.#emergencies[j]!, unit: 'count', limit: 0 },
    ])
  }

  #state(j: number, state: DriveState, follows: boolean, word: number, t: Nanos): void {
    const before = this.#states[j]
    const followed = this.#followed[j]!
    this.#states[j] = state
    this.#followed[j] = follows
    const told = this.#stopped || this.#stage === 'disable' || this.#stage === 'setup' || this.#stage === null
    if (told) return
    const fault = state === 'fault' || state === 'fault reaction active'
    const faultBefore = before === 'fault' || before === 'fault reaction active'
    if (before === 'operation enabled' && state !== 'operation enabled') {
      this.#left[j] = this.#left[j]! + 1
      this.#tell(
        j,
        'drive state',
        word,
        t,
        `The drive went from operation enabled to ${state} without being told.`,
      )
    } else if (fault && !faultBefore && before !== null) {
      this.#tell(j, 'drive state', word, t, `The drive went from ${before} to ${state}.`)
    } else if (followed && !follows && state === 'operation enabled' && isOperation(this.#stage!)) {
      this.#left[j] = this.#left[j]! + 1
      this.#tell(
        j,
        'drive follows',
        word,
        t,
        'The drive no longer follows its setpoints (statusword bit 12).',
      )
    }
  }

  #tell(j: number, quantity: string, word: number, t: Nanos, says: string): void {
    const { rig } = this.#c
    this.#c.report({
      severity: 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity,
      value: quantity === 'drive state' ? word & STATE_BITS : 0,
      limit: quantity === 'drive state' ? ENABLED_BITS : 1,
      unit: 'none',
      says,
      why: 'A drive that leaves operation by itself lets its joint go or holds it while the others move on.',
      look: "Look at the drive's error code (603Fh) and its supply.",
      stop: rig.stop.category,
    })
  }

  #emergency(j: number, code: number, t: Nanos): void {
    // Code 0000h: the error is gone (CiA 301, 7.2.7.1). A joint that is none of the rig's is the bus watch's matter.
    if (j < 0 || code === 0) return
    this.#emergencies[j] = this.#emergencies[j]! + 1
    const codes = this.#codes[j]!
    if (codes.has(code) || codes.size >= CODES) return
    codes.add(code)
    const { rig } = this.#c
    const early = this.#stage === 'setup' || this.#stage === null
    this.#c.report({
      severity: early ? 'warning' : 'failure',
      place: rig.joints[j]!.name,
      t,
      quantity: 'emergency',
      value: code,
      limit: 0,
      unit: 'none',
      says: `The drive sent an emergency message with code ${code.toString(16).toUpperCase().padStart(4, '0')}h.`,
      why: 'A drive reports an error of its own that way.',
      look: "Look the code up in the drive's manual; the first digit names the group (CiA 402).",
      stop: early ? null : rig.stop.category,
    })
  }
}
