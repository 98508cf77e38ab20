/**
 * The stages before the scenario's motion when the driver owns the buses: it sets the drives up, enables them and leads the
 * arms to where it starts; the bench hears, proves its stop, and waits. Nothing here sends anything but that stop.
 */
import type { Nanos } from '../clock.js'
import type { Rig } from '../files/rig.js'
import type { Drive } from '../link/drive.js'
import type { JointLink } from '../link/link.js'
import { outsideLimits, standsInside } from '../link/startup.js'
import type { BoxContact } from './box-contact.js'
import type { BusOwner } from './bus-owner.js'
import type { Course } from './course.js'
import type { Script } from './script.js'
import { Settled } from './settled.js'
import type { StopProof } from './stop-proof.js'
import type { Stops } from './stops.js'

/** s, longest time for the driver to have all drives report, and to lead the arms to its start. Common practice, no source. */
const START_WITHIN = 60

export interface ListeningStartParts {
  readonly rig: Rig
  readonly link: JointLink
  readonly course: Course
  readonly stops: Stops
  readonly box: BoxContact
  readonly proof: StopProof
  readonly script: Script
  readonly owner: Pick<BusOwner, 'heeds' | 'meetAnew'>
  /** The driver is let begin to move only while a person holds it. */
  readonly holdToRun: boolean
}

export class ListeningStart {
  readonly #p: ListeningStartParts
  readonly #settled: Settled
  #heldNow = false
  #begunAt: Nanos = 0

  constructor(parts: ListeningStartParts) {
    this.#p = parts
    this.#settled = new Settled(parts.rig, parts.link)
  }

  /** The drives are set up: SYNC and feedback flow. */
  get cyclic(): boolean {
    const { stage } = this.#p.course
    return stage !== null && stage !== 'setup'
  }

  begin(t: Nanos): void {
    this.#begunAt = t
    this.#p.course.enter('setup')
  }

  beginAnew(t: Nanos): void {
    this.#p.owner.meetAnew?.()
    this.#p.link.halt()
    this.#p.stops.clear()
    this.begin(t)
  }

  /** The driver cannot be paused on its way: whoever lets go of the key stops it. */
  hold(held: boolean): void {
    const { holdToRun, course, stops } = this.#p
    if (!holdToRun || held === this.#heldNow) return
    this.#heldNow = held
    if (course.stage !== 'approach') return
    if (!held) stops.latch('key', '', 'the key that holds the approach was let go of')
    course.event({ kind: 'hold', t: course.now, held })
  }

  /** The stages `setup`, `seed` and `enable`. */
  startUp(t: Nanos): void {
    const { link, course, box, proof, owner, holdToRun } = this.#p
    if (course.stage === 'setup') {
      const mute = link.drives.find((d) => !(d.feedbackAt > course.since))
      if (mute) {
        this.#late(t, mute, 'sends no feedback: the driver has not set it up, or sends no SYNC', 'feedback')
        return
      }
      course.enter('seed')
      course.enter('enable')
      return
    }
    const off = link.drives.find((d) => !d.follows)
    if (off) {
      this.#late(
        t,
        off,
        'was not enabled by the driver',
        'operation enabled with statusword bit 12',
        off.state,
      )
      return
    }
    const outside = link.drives.find((d) => !standsInside(d))
    if (outside) this.#refuse(t, outsideLimits(outside))
    else if (box.heed()) return
    else if (proof.due && owner.heeds) proof.begin()
    else if (!holdToRun || this.#heldNow) {
      course.enter('approach')
      this.#settled.restart()
    }
  }

  prove(t: Nanos): void {
    if (this.#p.proof.step(t)) this.beginAnew(t)
  }

  /** Where the driver starts: the arms have come to rest there. */
  approach(t: Nanos): void {
    const { course, script, stops } = this.#p
    if (this.#settled.step(t)) {
      script.begin(t)
      course.enter('play')
    } else if (course.inStage(t) > START_WITHIN)
      stops.latch(
        'driver',
        '',
        `the driver had not brought the arms to rest where it starts within ${START_WITHIN} s`,
      )
  }

  #late(t: Nanos, drive: Drive, says: string, expected: string, found: string = 'none'): void {
    if (t - this.#begunAt <= START_WITHIN * 1e9) return
    this.#refuse(t, { drive, says, expected: `${expected} within ${START_WITHIN} s`, found })
  }

  #refuse(
    t: Nanos,
    { drive, says, expected, found }: { drive: Drive | null; says: string; expected: string; found: string },
  ): void {
    const place = drive?.joint.name ?? ''
    this.#p.stops.latch('drive', place, says)
    this.#p.course.event({ kind: 'refusal', t, place, says, expected, found })
  }
}
