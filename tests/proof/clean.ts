/**
 * Clean runs: nothing is wrong, and whatever a watch finds is a false alarm. The seed draws the rig, the commands, what the craft stands
 * on and, in tolerances.ts, the arms. Commands are any that the sides bear: each side's speed within the rig's greatest, kept for some
 * seconds, changed with or without a ramp, through zero, and to nothing for a while. A change may ask more of a joint than the steady
 * strokes before and after it: such a script is outside the envelope, and drawn anew. A run lasts twenty seconds or more, and as long as
 * it takes one side to make five strokes.
 */

import { Player } from '../../src/bench/player.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import type { PlantKind, Rig } from '../../src/files/rig.js'
import type { Scenario, TimedCommand } from '../../src/files/scenario.js'
import { type RandomStream, randomStream } from '../../src/random.js'
import { AfloatTorque } from './afloat-torque.js'
import { fastest } from './driver-entry.js'
import type { RigName } from './rigs.js'
import { BEGINS, bySideSpeeds } from './scripts.js'

/** What a clean run has at least. */
export const LEAST_TIME = 20
export const LEAST_STROKES = 5
/** m/s, m or rad: any of them shows that a craft afloat was moved. */
export const LEAST_MOTION = { surge: 0.01, way: 0.05, turn: 0.05 } as const

/** Of a hundred clean runs so many are on this rig. */
const SHARES: readonly (readonly [RigName, number])[] = [
  ['skiff', 45],
  ['together', 15],
  ['alternating', 15],
  ['frames', 15],
  ['urdf', 10],
]
const AFLOAT = 0.04

/** Share of a joint's limits that the rig's envelope lets a driver use: what the demo rigs say of their fastest strokes. */
const WITHIN = 0.9
/** Strokes more: those with which a way begins and ends are not whole. */
const STROKE_MARGIN = 2
/** s, longest script */
const MOST_TIME = 60
const MOST_DRAWS = 50

export function rigOfSeed(seed: number): RigName {
  let at = 100 * randomStream(seed, 'rig').uniform()
  for (const [name, share] of SHARES) {
    if (at < share) return name
    at -= share
  }
  return 'skiff'
}

export interface Drawn {
  readonly scenario: Scenario
  /** Scripts that were drawn before, and asked more of a joint than the rig's envelope lets it. */
  readonly redrawn: number
}

export function cleanScenario(rig: Rig, seed: number): Drawn {
  const random = randomStream(seed, 'commands')
  const waters = rig.water !== null && rig.hull !== null
  const plant: PlantKind = waters && random.uniform() < AFLOAT ? 'afloat' : 'dry'
  for (let redrawn = 0; redrawn < MOST_DRAWS; redrawn++) {
    const commands = script(rig, random)
    const duration = borne(rig, commands, plant === 'afloat' ? new AfloatTorque(rig) : null)
    if (duration === null) continue
    const name = `clean ${seed}`
    return {
      scenario: {
        name,
        about: name,
        duration,
        plant,
        commands: commands.filter((c) => c.at < duration),
        faults: [],
        operator: [],
        expect: { outcome: 'finish', strokes: [], parked: true },
      },
      redrawn,
    }
  }
  throw new Error(`seed ${seed}: no script in ${MOST_DRAWS} was within the envelope`)
}

/** More than enough for the slowest strokes. */
function script(rig: Rig, random: RandomStream): TimedCommand[] {
  const commands: TimedCommand[] = []
  let at = BEGINS + random.uniform()
  while (at < MOST_TIME) {
    const { port, starboard } = sideSpeeds(rig, random)
    const over = random.uniform() < 0.3 ? 0 : 2 * random.uniform()
    commands.push({ at, over, ...bySideSpeeds(rig, port, starboard) })
    at += over + 3 + 9 * random.uniform()
    if (random.uniform() < 0.15) {
      commands.push({ at, over: random.uniform(), surge: 0, yaw: 0 })
      at += 2 + 2 * random.uniform()
    }
  }
  return commands
}

/**
 * The driver alone, without arms.
 * @param afloat null: the script is played dry
 * @returns s that the script must last; null: within that a joint needs more than the share of its limits that the envelope lets it
 */
function borne(rig: Rig, commands: readonly TimedCommand[], afloat: AfloatTorque | null): number | null {
  const { period } = rig.control
  const driver = new ReferenceDriver(rig)
  const player = new Player({ commands, faults: [], operator: [], duration: MOST_TIME })
  const counts = [driver.sides.port, driver.sides.starboard].map((side) => new WholeStrokes(side))
  let [now, last, before] = [0, 1, 2].map(() => driver.parkPose.slice()) as [
    Float64Array,
    Float64Array,
    Float64Array,
  ]
  driver.begin()
  for (let k = 0; k * period < MOST_TIME; k++) {
    ;[now, last, before] = [before, now, last]
    driver.step(player.command(k * period), now)
    for (const { index: j, limits } of rig.joints) {
      const speed = Math.abs(now[j]! - last[j]!) / period
      const acceleration = Math.abs(now[j]! - 2 * last[j]! + before[j]!) / period ** 2
      if (speed > WITHIN * limits.speed || acceleration > WITHIN * limits.acceleration) return null
    }
    if (afloat !== null && k >= 2 && afloat.step(now, last, before) > WITHIN) return null
    for (const count of counts) count.step()
    const strokes = Math.max(...counts.map((count) => count.whole))
    if (k * period >= LEAST_TIME && strokes >= LEAST_STROKES + STROKE_MARGIN) return k * period
  }
  return null
}

/** What a side strokes one way without standing in between; a stroke that is turned round in the middle does not count. */
class WholeStrokes {
  readonly #side: { readonly phase: number }
  #phase: number
  #direction = 0
  #before = 0
  #way = 0

  constructor(side: { readonly phase: number }) {
    this.#side = side
    this.#phase = side.phase
  }

  get whole(): number {
    return this.#before + Math.floor(this.#way)
  }

  step(): void {
    const { phase } = this.#side
    const jump = phase - this.#phase
    const step = jump - Math.round(jump)
    this.#phase = phase
    const direction = Math.sign(step)
    if (direction !== this.#direction) {
      this.#before = this.whole
      this.#way = 0
      this.#direction = direction
    }
    this.#way += Math.abs(step)
  }
}

/** m/s: both sides alike, one faster, one alone, or against each other. */
function sideSpeeds(rig: Rig, random: RandomStream): { port: number; starboard: number } {
  const most = fastest(rig)
  const speed = (): number => most * (0.4 + 0.6 * random.uniform())
  const way = random.uniform() < 0.75 ? 1 : -1
  const kind = random.uniform()
  const [a, b] = [way * speed(), way * speed()]
  if (kind < 0.3) return { port: a, starboard: a }
  if (kind < 0.7) return { port: a, starboard: b }
  const [port, starboard] = random.uniform() < 0.5 ? [0, 1] : [1, 0]
  if (kind < 0.8) return { port: port * a, starboard: starboard * a }
  return port === 1 ? { port: a, starboard: -b } : { port: -b, starboard: a }
}
