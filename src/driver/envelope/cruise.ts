/** Speed, cadence, power and endurance of a craft that goes on and on under one command, by the rig's own figures. */
import { DrystrokeError } from '../../errors.js'
import { lacksAfloat } from '../../files/afloat-complaints.js'
import type { Rig } from '../../files/rig.js'
import type { Command } from '../../files/scenario.js'
import { endurance } from '../../motion/battery.js'
import type { Cruise, CruisePower } from '../../motion/cruise.js'
import { showQuantity } from '../../units.js'
import { cruiseAssumptions } from './assumptions.js'
import type { Rays } from './rays.js'
import { STEPS } from './stroke-poses.js'
import type { SideGoing } from './under-way.js'

const WRENCH = 6

/**
 * @throws DrystrokeError `file-invalid` where the rig does not say what a craft afloat takes, `unreachable` where an arm cannot stroke,
 * `usage` for a command that goes nowhere
 */
export function cruiseOf(rig: Rig, command: Command, rays: Rays): Cruise {
  const { surge, yaw } = command
  if (surge === 0)
    throw new DrystrokeError(
      'usage',
      '--cruise: a craft that turns on the spot goes nowhere; expected a surge other than zero, for example --cruise "0.4 m/s"',
    )
  const { underWay } = rays
  if (underWay === null)
    throw new DrystrokeError(
      'file-invalid',
      `--cruise: what becomes of a command afloat cannot be told: the rig ${rig.name} lacks ${lacksAfloat(rig)}; add it to the rig file, as rigs/reservoir-skiff.yaml has it`,
    )
  const placed = rays.placed(surge, yaw)
  const going = rays.going(surge, yaw)
  for (const { side, way, reach } of going) {
    const { notReached } = rays.limits.stroke(side, way, reach)
    if (notReached)
      throw new DrystrokeError('unreachable', `--cruise: ${notReached.place}: ${notReached.says}`)
  }
  if (!underWay.settle(going))
    throw new DrystrokeError(
      'unreachable',
      `--cruise: no steady way was found for ${showQuantity(surge, 'm/s')} and ${showQuantity(yaw, 'rad/s')}; try another command, and see hull and flow of the rig`,
    )
  const { state } = underWay.craft
  const way = { surge: state[3]!, sway: state[4]!, yaw: state[5]! }
  const speed = Math.hypot(way.surge, way.sway)
  const figures = going.map((g) => figuresOf(g, rays))
  const all = (of: (f: SideFigures) => number): number => figures.reduce((sum, f) => sum + of(f), 0)
  const power: CruisePower = {
    driving: all((f) => f.driving),
    braking: all((f) => f.braking),
    friction: all((f) => f.friction),
    slip: all((f) => f.taken - f.pushed),
    hull: all((f) => f.pushed),
  }
  const battery = rig.battery && endurance({ ...rig.battery, power: power.driving, speed }, rig.battery)
  return {
    placed,
    ...way,
    speed,
    wander: all((f) => f.wander),
    sides: figures.map(({ side, cadence }) => ({ ...side, cadence })),
    power,
    battery,
    assumptions: [...cruiseAssumptions(rig), ...(battery?.assumptions ?? [])],
  }
}

/** W; of one side. */
interface SideFigures {
  readonly side: SideGoing
  readonly cadence: number
  readonly driving: number
  readonly braking: number
  readonly friction: number
  /** By the water from the arms: against the blades' motion relative to the craft */
  readonly taken: number
  /** By the blades to the craft, under the way that it is under */
  readonly pushed: number
  /** m/s */
  readonly wander: number
}

/** Of a side after `settle`. */
function figuresOf(going: SideGoing, rays: Rays): SideFigures {
  const { limits } = rays
  const { craft } = rays.underWay!
  const pace = limits.pace
  const speed = limits.gain(going.reach) * going.speed
  const load = new Float64Array(WRENCH)
  const change = new Float64Array(3)
  const free = new Float64Array(3)
  let [driving, braking, friction, taken, pushed, wander, cadence] = [0, 0, 0, 0, 0, 0, 0]
  craft.changes(free)
  for (const { strain, blade } of limits.stroke(going.side, going.way, going.reach).strokes) {
    if (blade === null) continue
    craft.overGround(blade.craft)
    strain.at(speed, blade)
    const { power } = strain
    driving += power.driving
    braking += power.braking
    friction += power.friction
    cadence = strain.cadence
    const [u, v, r] = blade.craft
    const changes = new Float64Array(STEPS)
    let mean = 0
    for (let i = 0; i < STEPS; i++) {
      const share = pace.lasts[i]! / pace.period
      blade.on(i, pace, load)
      taken += share * blade.taken(load)
      // Velocity of the craft where the blade is, times the force; and the moment's part.
      const [x, y] = [blade.x(i), blade.y(i)]
      pushed += share * (load[0]! * (u! - r! * y) + load[1]! * (v! + r! * x) + load[5]! * r!)
      craft.pull(load, x, y)
      craft.changes(change)
      changes[i] = change[0]! - free[0]!
      mean += share * changes[i]!
    }
    wander += swing(changes, mean, pace.lasts)
  }
  const side = { ...going, speed: limits.gain(1) * going.speed }
  return { side, cadence, driving, braking, friction, taken, pushed, wander }
}

/** m/s from the least to the most, of a speed that changes so over a stroke and is the same at its end. @param changes m/s2 @param lasts s */
function swing(changes: Float64Array, mean: number, lasts: Float64Array): number {
  let [speed, least, most] = [0, 0, 0]
  for (let i = 0; i < changes.length; i++) {
    speed += (changes[i]! - mean) * lasts[i]!
    least = Math.min(least, speed)
    most = Math.max(most, speed)
  }
  return most - least
}
