/** The stages before the scenario's motion: set-up, enabling, the proof of the stop path, the approach to the start of the stroke. */
import type { Nanos } from '../clock.js'
import type { Driver } from '../driver/contract.js'
import type { Stage } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { JointLink } from '../link/link.js'
import { Startup, type StartupStep } from '../link/startup.js'
import { Approach } from './approach.js'
import type { BoxContact } from './box-contact.js'
import type { Course } from './course.js'
import type { Script } from './script.js'
import type { Sending } from './sending.js'
import type { StopProof } from './stop-proof.js'
import type { Stops } from './stops.js'

const STAGE_OF: Record<StartupStep, Stage> = {
  calm: 'setup',
  reset: 'setup',
  configure: 'setup',
  seed: 'seed',
  follow: 'seed',
  enable: 'enable',
  ready: 'approach',
}

export interface BeforeMotionParts {
  readonly rig: Rig
  readonly link: JointLink
  readonly course: Course
  readonly stops: Stops
  readonly sending: Sending
  readonly box: BoxContact
  readonly proof: StopProof
  readonly script: Script
  readonly driver: Driver
  /** The approach runs only while a person holds it. */
  readonly holdToRun: boolean
}

export class BeforeMotion {
  readonly #p: BeforeMotionParts
  readonly #startup: Startup
  /** Joints whose drives have said who they are. */
  readonly #identified = new Set<number>()
  #approach: Approach | null = null
  #heldNow = false

  constructor(parts: BeforeMotionParts) {
    this.#p = parts
    this.#startup = new Startup(parts.rig, parts.link)
  }

  /** SYNC and setpoints flow. */
  get cyclic(): boolean {
    return this.#startup.cyclic
  }

  /** The first start of a run. */
  begin(t: Nanos): void {
    this.#p.course.enter('setup')
    this.#startup.begin(t)
  }

  beginAnew(t: Nanos): void {
    this.#p.driver.meetAnew?.()
    // After a held stop setpoints still flow: none may leave before the start-up has measured anew.
    this.#p.link.halt()
    this.#p.stops.clear()
    this.#startup.begin(t)
    this.#p.course.enter('setup')
  }

  /** A person holds the approach, or has let go of it: it goes on, or comes to rest where it is. */
  hold(held: boolean): void {
    const { holdToRun, course } = this.#p
    if (!holdToRun || held === this.#heldNow) return
    this.#heldNow = held
    if (course.stage === 'approach') course.event({ kind: 'hold', t: course.now, held })
  }

  /** The stages `setup`, `seed` and `enable`. */
  startUp(t: Nanos, cyclic: boolean): void {
    const { course, stops, sending, box, proof } = this.#p
    const refusal = this.#startup.tick(t)
    course.tell(this.#startup.notices)
    if (refusal) {
      const place = refusal.drive?.joint.name ?? ''
      const { says, expected, found } = refusal
      stops.latch('drive', place, says)
      course.event({ kind: 'refusal', t, place, says, expected, found })
      return
    }
    if (cyclic) sending.shadow(t)
    if (course.stage === 'stopping') return
    const stage = STAGE_OF[this.#startup.step]
    if (stage === course.stage) return
    if (stage === 'seed') this.#tellIdentities(t)
    if (box.heed()) return
    if (stage !== 'approach') course.enter(stage)
    else if (proof.due) proof.begin()
    else this.#beginApproach()
  }

  prove(t: Nanos): void {
    if (this.#p.proof.step(t)) this.beginAnew(t)
  }

  approach(t: Nanos): void {
    const { sending, course, driver, script, holdToRun } = this.#p
    const there = this.#approach!.step(sending.setpoints, !holdToRun || this.#heldNow)
    sending.send(t)
    if (!there || course.stage !== 'approach') return
    driver.begin()
    script.begin(t)
    course.enter('play')
  }

  #beginApproach(): void {
    const { rig, link, course, sending, driver, holdToRun } = this.#p
    const { setpoints } = sending
    link.held(setpoints)
    driver.standAt?.(setpoints)
    const via = driver.standAt ? [] : rig.motion.via
    this.#approach = new Approach(rig, [setpoints, ...via, driver.parkPose], !holdToRun)
    course.enter('approach')
  }

  /** Once a run: later starts are held to it, where it was confirmed. */
  #tellIdentities(t: Nanos): void {
    for (const { joint, identity } of this.#p.link.drives) {
      if (identity === null || this.#identified.has(joint.index)) continue
      this.#identified.add(joint.index)
      this.#p.course.event({ kind: 'identity', t, place: joint.name, drive: identity })
    }
  }
}
