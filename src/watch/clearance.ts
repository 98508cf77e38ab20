/**
 * The distances of the arms from each other, from themselves, and from the volumes that the rig names, from the beginning of
 * the approach on: how near a joint that was moved by hand came is nobody's fault, and no stop would help.
 *
 * It follows the feedback and not the setpoints: what counts is where the arms are. Between two samples each joint is
 * taken to move evenly, and the whole way is looked at (motion/clearance/sweep.ts). After a gap in the feedback it begins anew:
 * a way that nobody saw is not made up.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Stage } from '../files/event.js'
import type { Approach } from '../motion/clearance/leasts.js'
import { ClearanceSweep } from '../motion/clearance/sweep.js'
import { nearestPhase } from '../motion/nearest-phase.js'
import { showQuantity } from '../units.js'
import { Alarm } from './alarm.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'
import { WholeSamples } from './whole-samples.js'

/** SYNC periods without feedback of an arm beyond which its way is not known. */
const MOST_GAP = 10
/** Share of a distance beyond the warning to which the least is found. */
const COARSE = 0.05
/** m: a blade that is farther from its stroke's path is somewhere else. */
const ON_PATH = 0.05

export class ClearanceWatch implements Watch {
  readonly kinds = ['feedback', 'stage', 'end'] as const
  readonly #c: WatchContext<WatchSettings['clearance']>
  /** null: the rig says nothing of it */
  readonly #sweep: ClearanceSweep | null
  readonly #samples: WholeSamples
  readonly #alarm: Alarm
  readonly #least: number
  readonly #warn: number
  #on = false
  #fresh = true
  #t: Nanos = 0

  constructor(context: WatchContext<WatchSettings['clearance']>) {
    this.#c = context
    const { arms, joints, clearance } = context.rig
    this.#least = clearance?.least ?? 0
    this.#warn = clearance?.warn ?? 0
    this.#sweep = clearance && new ClearanceSweep({ arms, joints, clearance }, clearance.warn, COARSE)
    this.#samples = new WholeSamples(context.rig)
    this.#alarm = new Alarm(this.#sweep?.groups.length ?? 0)
  }

  see(o: Observation): void {
    if (this.#sweep === null) return
    if (o.kind === 'feedback') {
      if (this.#samples.see(o.joint, o.index, o.position) && this.#on) this.#move(this.#sweep, o.t)
    } else if (o.kind === 'stage') this.#enter(o.stage)
    else if (o.kind === 'end') this.#t = o.t
  }

  close(): void {
    const cut = this.#sweep?.cut ?? 0
    if (cut === 0) return
    this.#c.report({
      severity: 'doubt',
      place: '',
      t: this.#t,
      quantity: 'motions not followed to their end',
      value: cut,
      limit: 0,
      unit: 'count',
      says: 'From one sample to the next an arm moved too far for its way to be followed.',
      why: 'What it came near to on that way is not known.',
      look: 'Look for jumps in the feedback of the joints.',
      stop: null,
    })
  }

  figures(): Figure[] {
    const sweep = this.#sweep
    const watched = sweep !== null && !this.#fresh
    const rows: Figure[] = [
      { place: '', name: 'pairs watched', value: watched ? sweep.pairs : 0, unit: 'count', limit: null },
    ]
    if (!watched) return rows
    if (sweep.cut > 0) {
      const name = 'motions not followed to their end'
      rows.push({ place: '', name, value: sweep.cut, unit: 'count', limit: 0 })
    }
    const { arms } = this.#c.rig
    sweep.groups.forEach(({ arm, to, otherArm }, g) => {
      const nearest = sweep.nearest(g)
      if (nearest === null) return
      const { name: place } = arms[arm]!
      rows.push({
        place,
        name: `least distance to ${to}`,
        value: nearest.distance,
        unit: 'm',
        limit: this.#least,
      })
      rows.push(this.#phase(sweep, arm, nearest.first, to, nearest))
      if (otherArm !== null) rows.push(this.#phase(sweep, otherArm, nearest.second, place, nearest))
      else if (to === 'itself') rows.push(this.#phase(sweep, arm, nearest.second, to, nearest))
    })
    return rows
  }

  /** Which part of the arm was the nearest, and where in its stroke the arm was. */
  #phase(sweep: ClearanceSweep, arm: number, place: string, to: string, nearest: Approach): Figure {
    const { rig } = this.#c
    const { phase, off } = nearestPhase(rig, rig.arms[arm]!, sweep.bladeIn(arm, nearest))
    return off <= ON_PATH
      ? { place, name: `nearest to ${to} at stroke phase`, value: phase, unit: 'none', limit: null }
      : { place, name: `nearest to ${to} off the stroke by`, value: off, unit: 'm', limit: null }
  }

  #enter(stage: Stage): void {
    if (stage === 'setup') this.#on = false
    else if (!this.#on && (stage === 'approach' || stage === 'play')) {
      this.#on = true
      this.#fresh = true
    }
  }

  #move(sweep: ClearanceSweep, t: Nanos): void {
    const { q, gap } = this.#samples
    if (this.#fresh || gap > MOST_GAP) sweep.start(q, t)
    else sweep.move(q, t)
    this.#fresh = false
    const { now } = sweep
    for (let g = 0; g < now.length; g++) {
      const distance = now[g]!
      const level = distance < this.#least ? 2 : distance < this.#warn ? 1 : 0
      if (this.#alarm.rises(g, level, t)) this.#tell(sweep, g, t)
    }
  }

  #tell(sweep: ClearanceSweep, g: number, t: Nanos): void {
    const { rig } = this.#c
    const { distance, first, second, at } = sweep.nearestNow(g)
    const failure = distance < this.#least
    const [x, y, z] = at.map((v) => showQuantity(v, 'm'))
    this.#c.report({
      severity: failure ? 'failure' : 'warning',
      place: rig.arms[sweep.groups[g]!.arm]!.name,
      t,
      quantity: 'distance',
      value: distance,
      limit: failure ? this.#least : this.#warn,
      unit: 'm',
      says: `${first} came too near to ${second}, at x ${x}, y ${y}, z ${z}.`,
      why: 'An arm that hits the craft, a person or another arm breaks something or hurts somebody.',
      look: "Look at the setpoints of the second before, then at the arm's base, and at zero and sign of its joints.",
      stop: failure ? rig.stop.category : null,
    })
  }
}
