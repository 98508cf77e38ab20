/** Asks every CiA 402 drive of a rig by SDO who it is, in which state, and where it stands. Reads only; no drive is set up. */
import type { Bus } from '../bus/contract.js'
import type { Nanos } from '../clock.js'
import type { Joint, Rig } from '../files/rig.js'
import { SdoClient, type SdoScript } from '../link/sdo-client.js'
import { COB, IDENTITY, OBJECT } from '../wire/cia402/objects.js'
import { toRadians } from '../wire/cia402/scale.js'
import { driveState } from '../wire/cia402/state.js'
import type { Frame } from '../wire/frame.js'
import type { Answer, Refusal } from './picture.js'

/** Tries before a drive counts as not answering: a node may be starting up. */
const TRIES = 5

export class Asker {
  /** By joint; null: not known yet, or a joint that has no SDO. */
  readonly answers: (Answer | null)[]
  /** By bus: why frames were refused, and how often. */
  readonly refusals: readonly Map<Refusal, number>[]
  readonly #asked: { readonly joint: Joint; readonly sdo: SdoClient }[]

  constructor(rig: Rig, buses: readonly Bus[]) {
    this.answers = rig.joints.map(() => null)
    this.refusals = buses.map(() => new Map())
    this.#asked = rig.joints.flatMap((joint) => {
      if (joint.wire.protocol !== 'cia402') return []
      const bus = buses[joint.wire.bus]!
      const refused = this.refusals[joint.wire.bus]!
      const { queue } = rig.buses[joint.wire.bus]!
      // Drives in another process answer faster than the wire would take the questions: not to fill the queue with them.
      const send = (frame: Frame): boolean => {
        if (bus.waiting >= queue / 2) return false
        const result = bus.send(frame)
        if (result !== 'sent') refused.set(result, (refused.get(result) ?? 0) + 1)
        return true
      }
      return [{ joint, sdo: new SdoClient(joint.wire.node, send, rig.link.replyWithin) }]
    })
  }

  begin(t: Nanos): void {
    for (const { joint, sdo } of this.#asked) sdo.run(this.#script(joint), t, TRIES)
  }

  onFrame(bus: number, frame: Frame, t: Nanos): void {
    if (frame.extended || frame.remote) return
    for (const { joint, sdo } of this.#asked) {
      if (joint.wire.bus === bus && frame.id === COB.sdoReply + joint.wire.node) sdo.onReply(frame.data, t)
    }
  }

  /** Every few milliseconds. @returns true once every drive has answered or been given up */
  tick(t: Nanos): boolean {
    for (const { joint, sdo } of this.#asked) {
      sdo.tick(t)
      const { refusal } = sdo
      if (refusal) this.answers[joint.index] = { answered: false, says: refusal.says, found: refusal.found }
    }
    return this.#asked.every(({ sdo }) => !sdo.busy)
  }

  *#script(joint: Joint): SdoScript {
    const deviceType = yield { read: OBJECT.deviceType }
    const identity: number[] = []
    for (const entry of IDENTITY) identity.push(yield { read: entry })
    const state = driveState(yield { read: OBJECT.statusword }) ?? 'unknown'
    const position = toRadians(joint.wire, yield { read: OBJECT.actualPosition })
    this.answers[joint.index] = { answered: true, deviceType, identity, state, position }
    return undefined
  }
}
