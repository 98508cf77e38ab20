/** A drive that speaks a frame map as the link sees it: what its feedback said, and what the start-up can ask of it. */
import type { Nanos } from '../clock.js'
import type { FramesJoint } from '../files/rig.js'
import { toCounts, toRadians } from '../wire/cia402/scale.js'
import { isOff } from '../wire/cia402/state.js'
import { Fresh } from '../wire/frame-map/frame-codec.js'
import type { MapCodec } from '../wire/frame-map/map-codec.js'
import type { DriveCommand } from '../wire/observation.js'
import { type CalmPlan, Drive, type Refusal } from './drive.js'
import type { StopCommand } from './protocol.js'

/** Goes on once a tick, which it is told the time of. */
type TickScript = Generator<undefined, Refusal | undefined, Nanos>

const WIRING =
  'look at power, wiring, termination, bit rate and node, and at the identifiers of the frame map'
/** Ticks after which a stop that had no effect yet is sent again. */
const REPEAT_TICKS = 4

export class FramesDrive extends Drive {
  readonly enabledMeans = 'a state that means enabled'
  readonly unheardSays = 'sends no feedback any more'
  readonly #joint: FramesJoint
  readonly #codec: MapCodec
  readonly #fresh: Fresh
  readonly #tell: (command: StopCommand) => void
  #counts = 0
  /** s */
  #patience = 0
  /** Frames of its identifier that could not be believed since the step began. */
  #misfits = 0
  #script: TickScript | null = null
  #refusal: Refusal | undefined

  /** @param tell sends a stop command to this drive */
  constructor(joint: FramesJoint, codec: MapCodec, tell: (command: StopCommand) => void) {
    super(joint)
    this.#joint = joint
    this.#codec = codec
    this.#fresh = new Fresh(codec.feedback)
    this.#tell = tell
  }

  get position(): number {
    return toRadians(this.#joint.wire, this.#counts)
  }

  /** The number that stands for a position (rad) in a setpoint. */
  numberOf(position: number): number {
    return toCounts(this.#joint.wire.setpoint, position)
  }

  /** The number that stands for a speed (rad/s) in a setpoint that has one. */
  speedOf(speed: number): number {
    return this.#codec.setpoint.numberOf('speed', this.#joint.wire.turns * speed)
  }

  onFeedback(data: Uint8Array, t: Nanos): void {
    const { feedback } = this.#codec
    if (!feedback.fits(data) || !this.#fresh.see(data)) {
      this.#misfits++
      return
    }
    this.state = this.#codec.state(data)
    this.follows = this.state === 'operation enabled'
    this.#counts = feedback.number('position', data)!
    this.feedbackAt = t
  }

  get next(): DriveCommand | null {
    if (this.state === 'fault') return 'fault reset'
    return this.state === 'switch on disabled' ? 'enable operation' : null
  }

  get busy(): boolean {
    return this.#script !== null
  }

  get refusal(): Refusal | undefined {
    return this.#refusal
  }

  tick(t: Nanos): void {
    const step = this.#script?.next(t)
    if (!step?.done) return
    this.#script = null
    this.#refusal = step.value
  }

  cancel(): void {
    this.#script = null
    this.#refusal = undefined
  }

  calm(t: Nanos, plan: CalmPlan): void {
    this.#patience = plan.patience
    this.#run(this.#calmed(t, plan), t)
  }

  /** Fresh feedback: its position is where setpoints begin. The drive cannot be asked for its target. */
  seed(t: Nanos): void {
    this.#run(this.#heard(t, this.#patience), t)
  }

  // There is no network to reset, no set-up to write, no heartbeat to wait for.
  wake(): void {}
  forget(): void {}
  unready(): null {
    return null
  }
  configure(): void {}
  mute(): null {
    return null
  }

  #run(script: TickScript, t: Nanos): void {
    this.#misfits = 0
    this.#refusal = undefined
    this.#script = script
    script.next(t)
  }

  *#heard(since: Nanos, patience: number): TickScript {
    while (this.feedbackAt <= since) {
      const t = yield
      if (t - since <= patience * 1e9) continue
      return {
        says: `sends no feedback; ${WIRING}`,
        expected: `a feedback frame within ${patience} s`,
        found:
          this.#misfits === 0
            ? 'none'
            : `${this.#misfits} frames of its identifier with another length, constant or checksum, or a counter that stands still`,
      }
    }
    return undefined
  }

  /** Brings a drive that an earlier run left enabled to rest and takes its torque away. */
  *#calmed(begun: Nanos, { polls, patience, onFoundOn }: CalmPlan): TickScript {
    const deaf = yield* this.#heard(begun, patience)
    if (deaf || isOff(this.state)) return deaf
    onFoundOn()
    for (const command of ['quick stop', 'disable voltage'] as const) {
      for (let i = 0; i < polls; i++) {
        if (i % REPEAT_TICKS === 0) this.#tell(command)
        yield
        if (isOff(this.state)) return undefined
      }
    }
    return {
      says: 'gives torque, and neither its stop nor its disable frame ends it; cut its power with the hard-wired stop',
      expected: 'a drive without torque',
      found: this.state === 'unknown' ? 'a state that the frame map does not name' : this.state,
    }
  }
}
