/** What a jog must see of the arms, from the frames and events of its run on their way to the recording. */
import type { Nanos } from '../../clock.js'
import type { JogDriver } from '../../driver/jog.js'
import type { BenchEvent } from '../../files/event.js'
import type { Rig } from '../../files/rig.js'
import { Still } from '../../motion/still.js'
import type { RecordingWriter } from '../../record/write.js'
import { VOLTAGE_BIT } from '../../wire/cia402/state.js'
import { Decoder } from '../../wire/decoder.js'
import type { Frame } from '../../wire/frame.js'
import type { Bench } from '../bench.js'
import type { ArmsSeen } from './message.js'

type Recording = Pick<RecordingWriter, 'frame' | 'event' | 'flush'>

export class ArmsLook implements Recording {
  readonly #rig: Rig
  readonly #driver: JogDriver
  readonly #recording: Recording
  readonly #decoder: Decoder
  readonly #positions: (number | null)[]
  readonly #seen: (number | null)[]
  readonly #off: (number | null)[]
  readonly #still: readonly Still[]
  readonly #drives: (string | null)[]
  #stop: string | null = null

  /** @param recording everything goes on to it */
  constructor(rig: Rig, driver: JogDriver, recording: Recording) {
    this.#rig = rig
    this.#driver = driver
    this.#recording = recording
    this.#positions = rig.joints.map(() => null)
    this.#seen = rig.joints.map(() => null)
    this.#off = rig.joints.map(() => null)
    this.#still = rig.joints.map(() => new Still(rig.stop.still.speed, rig.stop.still.hold))
    this.#drives = rig.joints.map(() => null)
    this.#decoder = new Decoder(rig, (o) => {
      if (o.kind === 'state')
        this.#off[o.joint] = (o.word & VOLTAGE_BIT) === 0 ? (this.#off[o.joint] ?? o.t) : null
      if (o.kind !== 'feedback') return
      this.#positions[o.joint] = o.position
      this.#seen[o.joint] = o.t
      this.#still[o.joint]!.see(o.position, o.t)
    })
  }

  frame(bus: number, frame: Frame, t: Nanos, sent: boolean): void {
    this.#recording.frame(bus, frame, t, sent)
    this.#decoder.see(bus, frame, t, sent)
  }

  event(e: BenchEvent): void {
    this.#recording.event(e)
    if (e.kind === 'stop') this.#stop ??= `${e.source}${e.place && ` at ${e.place}`}: ${e.says}`
    if (e.kind !== 'identity') return
    const joint = this.#rig.joints.find((j) => j.name === e.place)
    if (joint) this.#drives[joint.index] = e.drive
  }

  flush(): void {
    this.#recording.flush()
  }

  see({ stage }: Bench, t: Nanos): ArmsSeen {
    return {
      ...{ t, stage, resting: this.#driver.resting, stop: this.#stop },
      positions: [...this.#positions],
      seen: [...this.#seen],
      off: [...this.#off],
      rest: this.#still.map((s) => s.since),
      drives: [...this.#drives],
    }
  }
}
