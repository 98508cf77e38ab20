/**
 * What the drives of the arms bear: the torque of every joint, from the measured motion by inverse dynamics, and from the drives'
 * own feedback where it has one, against the continuous and the peak torque that the rig states; strokes by their RMS, motors
 * by their warmth, at the end of the run and of the trip. And what the same motion would take afloat: a dry pass is none when the water
 * overloads a joint.
 *
 * It counts while the bench moves the arms (approach, play, park), and is judged when the run is over: it predicts, so it asks for no
 * stop. A stop's own torques are not in it, nor is what comes after a fault that the scenario plays: a joint that jams moves as no drive
 * moved it. Speeds and accelerations are least-squares fits, which round off what is faster than a stated
 * frequency: a peak that is shorter (a knock, a jerk) is larger than it says. Motors begin cold, and do not cool while a run rests.
 *
 * The fits need samples one period apart: they begin anew after a SYNC that came early or late. The drives had no setpoint in time then,
 * and move as no driver asked them to: until they are back the motion is not foretold of afloat, and says nothing of the model.
 *
 * A model is no better than its masses. Where drives tell torques it is held against them: ratio and residual of each joint. A drive that
 * gives all that it may is no evidence, nor is its arm: its joints shake, and the fits round that off. Torques
 * of arms that are simulated dry are an invention (plant/joint.ts), and are left out; those of arms that are simulated afloat come of the
 * same model, and show what fits, noise and friction near rest leave of it, no more.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Stage } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import { delay } from '../motion/differentiator.js'
import { waterOf } from '../motion/water/properties.js'
import { loadFigures } from './load-figures.js'
import { judgeArm } from './load-findings.js'
import { loadNotes } from './load-notes.js'
import { LoadPrediction } from './load-prediction.js'
import { isRated, LoadedArm, type RatedJoint } from './loaded-arm.js'
import type { WatchSettings } from './settings.js'
import { SyncBeat } from './sync-beat.js'
import { isOperation } from './tracking.js'
import type { Observation, ObservationKind, Watch, WatchContext } from './watch.js'

const KINDS = ['feedback', 'sync', 'stage', 'stop', 'fault', 'arms'] as const

export class LoadWatch implements Watch {
  readonly kinds: readonly ObservationKind[]
  /** The rig states what it needs. */
  readonly seen: boolean
  readonly #c: WatchContext<WatchSettings['load']>
  /** In rig order; none without masses and ratings. */
  readonly #arms: readonly LoadedArm[]
  readonly #prediction: LoadPrediction | null
  /** By joint of the rig: its place in its arm. */
  readonly #place: Int32Array
  readonly #delay: Nanos
  readonly #beat: SyncBeat
  /** By bus: the arms with joints there. */
  readonly #wired: readonly (readonly LoadedArm[])[]
  /** Torques of the drives are their own; unless the arms turn out to be a stand-in. */
  #told: boolean
  #on = false
  /** SYNCs while the bench moves the arms. */
  #motions = 0

  constructor(context: WatchContext<WatchSettings['load']>) {
    this.#c = context
    const { rig, scenario, settings } = context
    const { window, trip = null } = settings
    const rated = rig.joints.filter(isRated)
    this.seen = rated.length === rig.joints.length
    this.kinds = this.seen ? KINDS : []
    const simulated = isSimulated(rig)
    const afloat = simulated && scenario.plant === 'afloat'
    this.#told = !simulated || afloat
    const water = rig.water && rig.hull && waterOf(rig.water)
    this.#arms = this.seen
      ? rig.arms.map((arm) => {
          const joints = arm.joints.map((j): RatedJoint => rated[j]!)
          return new LoadedArm(rig, arm, joints, water, { window, trip, afloat })
        })
      : []
    this.#prediction = this.seen && rig.hull && water ? new LoadPrediction(rig, rig.hull, water) : null
    this.#place = Int32Array.from(rig.joints, (j) => rig.arms[j.arm]!.joints.indexOf(j.index))
    this.#beat = new SyncBeat(rig)
    this.#wired = rig.buses.map(({ index }) =>
      this.#arms.filter((arm) => arm.joints.some(({ wire }) => wire.bus === index)),
    )
    this.#delay = Math.round(delay(window, rig.control.period) * 1e9)
  }

  /** What a reader of the verdict must know of the torques in it, in whole sentences. Known when the run is over. */
  get notes(): string[] {
    const simulated = isSimulated(this.#c.rig)
    const foretold = Math.min(...this.#arms.map(({ motions }) => motions.judged - motions.unasked))
    const known = this.#motions === 0 ? 1 : foretold / this.#motions
    return loadNotes(this.#c, this.#arms, { predicted: this.#prediction !== null, known, simulated })
  }

  see(o: Observation): void {
    if (o.kind === 'feedback') this.#feedback(o.joint, o.index, o.position, o.torque, o.t)
    else if (o.kind === 'sync') this.#sync(o.bus, o.index, o.t)
    else if (o.kind === 'stage') this.#enter(o.stage)
    else if (o.kind === 'stop' || o.kind === 'fault') this.#on = false
    else if (o.kind === 'arms') this.#told = false
  }

  close(): void {
    for (const arm of this.#arms) judgeArm(this.#c, arm)
  }

  figures(): Figure[] {
    return loadFigures(this.#c, this.#arms, this.#prediction)
  }

  #sync(bus: number, index: number, t: Nanos): void {
    if (this.#beat.uneven(bus, t)) for (const arm of this.#wired[bus]!) arm.uneven(index)
    // SYNCs of all buses go out in one tick: one of them is enough to count periods.
    if (bus !== 0 || !this.#on) return
    this.#motions++
    this.#prediction?.step()
  }

  #enter(stage: Stage): void {
    this.#on = isOperation(stage)
    if (stage === 'approach') this.#prediction?.rest()
    if (!this.#on) for (const arm of this.#arms) arm.breaks()
  }

  #feedback(j: number, index: number, position: number, torque: number, t: Nanos): void {
    const arm = this.#arms[this.#c.rig.joints[j]!.arm]!
    if (!arm.see(this.#place[j]!, index, position, torque) || !this.#on) return
    arm.judge(this.#prediction, this.#told, t - this.#delay)
  }
}

function isSimulated({ buses }: Pick<Rig, 'buses'>): boolean {
  return buses.every((bus) => bus.address.kind === 'mock')
}
