/**
 * The proof of the stop path in the stage `prove`: the arms stand still, enabled, and braked or supported; quick stop and
 * disable voltage go out as in a real stop. It is none: nothing is latched, and a start-up from the beginning follows.
 *
 * Seen here: how long each drive takes to say that it obeys the quick stop, that all end without torque, and how far each
 * joint sinks then. That a drive does not answer in time is for the bench to notice, which ends the run.
 */
import type { Nanos } from '../clock.js'
import type { Figure } from '../files/event.js'
import { isOff } from '../wire/cia402/state.js'
import type { DriveCommand, ReportedState } from '../wire/observation.js'
import { Alarm } from './alarm.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

interface ProvenJoint {
  /** rad */
  position: number
  state: ReportedState | null
  /** s from the quick stop to the state that obeys it; NaN = not seen */
  answer: number
  /** rad, where the joint was when its drive said that it is off; NaN = it has not */
  off: number
  /** rad, greatest distance from there */
  sag: number
}

export class ProofWatch implements Watch {
  readonly kinds = ['stage', 'control', 'state', 'feedback'] as const
  readonly #c: WatchContext<WatchSettings['proof']>
  readonly #joints: ProvenJoint[]
  readonly #alarm: Alarm
  #proving = false
  /** ns, when the first quick stop of the proof went out; NaN = not yet */
  #asked: Nanos = Number.NaN
  #proofs = 0

  constructor(context: WatchContext<WatchSettings['proof']>) {
    this.#c = context
    const { joints } = context.rig
    const { NaN: unseen } = Number
    this.#joints = joints.map(() => ({ position: unseen, state: null, answer: unseen, off: unseen, sag: 0 }))
    this.#alarm = new Alarm(joints.length)
  }

  see(o: Observation): void {
    if (o.kind === 'feedback') this.#feedback(o.joint, o.position, o.t)
    else if (o.kind === 'state') this.#state(this.#joints[o.joint]!, o.state, o.t)
    else if (o.kind === 'control') this.#control(o.command, o.t)
    else if (o.kind === 'stage') {
      // What comes next says whether the proof came to its end.
      if (this.#proving && o.stage === 'setup') this.#proofs++
      this.#proving = o.stage === 'prove'
      this.#asked = Number.NaN
    }
  }

  close(): void {}

  figures(): Figure[] {
    const { rig } = this.#c
    const rows: Figure[] = [
      { place: '', name: 'stop path proven', value: this.#proofs, unit: 'count', limit: null },
    ]
    this.#joints.forEach(({ answer, off, sag }, j) => {
      const place = rig.joints[j]!.name
      if (!Number.isNaN(answer))
        rows.push({
          place,
          name: 'answer to the quick stop',
          value: answer,
          unit: 's',
          limit: rig.stop.answer,
        })
      if (!Number.isNaN(off))
        rows.push({ place, name: 'sag without power', value: sag, unit: 'rad', limit: rig.stop.sag })
    })
    return rows
  }

  #control(command: DriveCommand | 'unknown', t: Nanos): void {
    if (this.#proving && command === 'quick stop' && Number.isNaN(this.#asked)) this.#asked = t
  }

  #state(joint: ProvenJoint, state: ReportedState, t: Nanos): void {
    joint.state = state
    if (!this.#proving || Number.isNaN(this.#asked)) return
    const obeys = state === 'quick stop active' || isOff(state)
    if (obeys && Number.isNaN(joint.answer)) joint.answer = (t - this.#asked) / 1e9
    if (isOff(state) && Number.isNaN(joint.off)) joint.off = joint.position
  }

  #feedback(j: number, position: number, t: Nanos): void {
    const joint = this.#joints[j]!
    joint.position = position
    if (!this.#proving || Number.isNaN(joint.off)) return
    const sag = Math.abs(position - joint.off)
    joint.sag = Math.max(joint.sag, sag)
    const { stop } = this.#c.rig
    if (!this.#alarm.rises(j, sag > stop.sag ? 2 : 0, t)) return
    this.#c.report({
      severity: 'failure',
      place: this.#c.rig.joints[j]!.name,
      t,
      quantity: 'sag without power',
      value: sag,
      limit: stop.sag,
      unit: 'rad',
      says: 'While the stop path was proven, the joint sank after its drive had let go of it.',
      why: 'An arm that sinks when power is taken away falls in every stop.',
      look: stop.brakes
        ? 'Look at the brake of this joint: the rig states that brakes hold the arms.'
        : 'Support the arms before the drives are enabled: the rig states no brakes.',
      stop: stop.category,
    })
  }
}
