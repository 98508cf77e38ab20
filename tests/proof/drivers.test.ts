/** Each broken driver does what its entry says: seen on its setpoints alone, beside those of the sound driver. */
import { describe, expect, it } from 'vitest'
import { Player } from '../../src/bench/player.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import { Chain } from '../../src/motion/chain.js'
import { Compared } from './compared.js'
import { type LEVELS, leastLeap } from './driver-entry.js'
import { jointOf } from './drivers/around.js'
import { DRIVERS } from './drivers/catalogue.js'
import { driverOf, severityOf } from './jobs.js'
import { proofRig } from './rigs.js'
import { scripted } from './scripts.js'

const RIG = proofRig(new URL('../..', import.meta.url).pathname, 'skiff')
const { period } = RIG.control
const SWING = jointOf(RIG, 'swing')

/** Setpoints (rad) of the broken driver and of the sound one, period by period, and what was thrown. */
interface Played {
  readonly broken: readonly Float64Array[]
  readonly sound: readonly Float64Array[]
  readonly thrown: unknown
  readonly parksElsewhere: boolean
  /** Period in which they differ first, -1: never. */
  readonly from: number
}

const known = new Map<string, Played>()

/** The script's commands, a stop and a new start where it has them. */
function played(name: string, level: (typeof LEVELS)[number] = 'nominal'): Played {
  const key = `${name} ${level}`
  const before = known.get(key)
  if (before) return before
  const entry = driverOf(name)
  const severity = severityOf(entry, RIG, level)
  const rig = { ...RIG, ...entry.rig?.(RIG, severity) }
  const scenario = scripted(rig, entry.script, 7)
  const player = new Player(scenario)
  const compared = new Compared(rig, entry.driver(rig, severity, 7))
  const [broken, sound]: [Float64Array[], Float64Array[]] = [[], []]
  const [stop] = scenario.operator
  const start = scenario.operator.find((a) => a.action === 'start')
  let thrown: unknown = null
  let from = -1
  compared.begin()
  for (let k = 0; k * period < scenario.duration; k++) {
    const s = k * period
    if (stop && start && s >= stop.at && s < start.at) continue
    if (start && s >= start.at && s < start.at + period) {
      player.forget(s)
      compared.begin()
    }
    const out = new Float64Array(rig.joints.length)
    try {
      compared.step(player.command(s), out)
    } catch (error) {
      thrown = error
      from = k
      break
    }
    if (compared.differs && from < 0) from = k
    broken.push(out)
    sound.push(compared.sound.slice())
  }
  const result = { broken, sound, thrown, parksElsewhere: compared.parksElsewhere, from }
  known.set(key, result)
  return result
}

/** m, place of the port blade's centre in the craft frame */
function blades(setpoints: readonly Float64Array[]): [x: number, y: number, z: number][] {
  const arm = RIG.arms[0]!
  const chain = new Chain(
    arm,
    arm.joints.map((j) => RIG.joints[j]!),
  )
  return setpoints.map((q) => {
    chain.forward(q.slice(0, arm.joints.length))
    return [chain.blade[9]!, chain.blade[10]!, chain.blade[11]!]
  })
}

const span = (values: readonly number[]): number => Math.max(...values) - Math.min(...values)
/** m/s, mean speed aft while the blade is deeper than half of its greatest depth */
function driveSpeed(setpoints: readonly Float64Array[]): number {
  const places = blades(setpoints)
  const deep = Math.min(...places.map((p) => p[2])) + 0.005
  const steps = places.flatMap((p, i) => {
    const before = places[i - 1]
    return before && p[2] < deep && before[2] < deep ? [(before[0] - p[0]) / period] : []
  })
  return steps.reduce((sum, v) => sum + v, 0) / steps.length
}

/** rad, the greatest second difference of a joint's setpoints */
const greatestBend = (setpoints: readonly Float64Array[], j: number): number =>
  Math.max(
    ...setpoints.slice(2).map((q, i) => Math.abs(q[j]! - 2 * setpoints[i + 1]![j]! + setpoints[i]![j]!)),
  )

it('has at least 25 drivers, each name once', () => {
  expect(DRIVERS.length).toBeGreaterThanOrEqual(25)
  expect(new Set(DRIVERS.map((d) => d.name)).size).toBe(DRIVERS.length)
})

describe.each(DRIVERS)('$name', (entry) => {
  it('has three severities that differ, each with a bound', () => {
    const severities = entry.severities(RIG)
    expect(new Set(severities).size).toBe(3)
    for (const severity of severities) {
      const bound = entry.detectWithin(RIG, severity)
      expect(bound).toBeGreaterThan(0)
      expect(Number.isFinite(bound)).toBe(true)
    }
  })

  it('comes up in its script', () => {
    const { from, parksElsewhere } = played(entry.name)
    expect(from >= 0 || parksElsewhere).toBe(true)
  })
})

it('the sound driver beside itself never differs', () => {
  const compared = new Compared(RIG, new ReferenceDriver(RIG))
  const out = new Float64Array(RIG.joints.length)
  compared.begin()
  for (let k = 0; k < 1000; k++) compared.step({ surge: 0.3, yaw: 0.02 }, out)
  expect(compared.differs).toBe(false)
  expect(compared.parksElsewhere).toBe(false)
})

describe('what they do wrong', () => {
  it.each([
    ['slow sides', 0.9],
    ['one side slow', 0.9],
    ['surge sign', -1],
  ])('%s: the port blade goes at %s times its speed', (name, factor) => {
    const { broken, sound } = played(name)
    const kept = (all: readonly Float64Array[]) => all.slice(-2000)
    expect(driveSpeed(kept(broken)) / driveSpeed(kept(sound))).toBeCloseTo(factor, 1)
  })

  it.each([
    ['yaw sign', -1],
    ['yaw scaled', 0.5],
  ])('%s: the sides differ by %s times as much', (name, factor) => {
    const entry = driverOf(name)
    const inner = entry.driver(RIG, severityOf(entry, RIG, 'nominal'), 7)
    const reference = new ReferenceDriver(RIG)
    const [a, b] = [inner.parkPose.slice(), inner.parkPose.slice()]
    inner.begin()
    reference.begin()
    for (let k = 0; k < 2000; k++) {
      inner.step({ surge: 0.3, yaw: 0.1 }, a)
      reference.step({ surge: 0.3, yaw: factor * 0.1 }, b)
    }
    expect(a).toEqual(b)
  })

  it.each([
    ['command delayed', 0.5],
    ['late by a part of the stroke', null],
  ])('%s: the setpoints are those of so much earlier', (name, s) => {
    const late = Math.round((s ?? severityOf(driverOf(name), RIG, 'nominal')) / period)
    const { broken, sound } = played(name)
    for (const k of [late + 200, late + 700, late + 1500])
      expect(broken[k]![SWING]!).toBeCloseTo(sound[k - late]![SWING]!, 9)
  })

  it('stroke too short: by a fifth', () => {
    const { broken, sound } = played('stroke too short')
    const x = (all: readonly Float64Array[]) => span(blades(all).map((p) => p[0]))
    expect(x(broken) / x(sound)).toBeCloseTo(0.8, 2)
  })

  it('immersed too deep: by its severity, and the recovery stays where it is', () => {
    const { broken, sound } = played('immersed too deep')
    const z = (all: readonly Float64Array[]) => blades(all).map((p) => p[2])
    const severity = severityOf(driverOf('immersed too deep'), RIG, 'nominal')
    expect(Math.min(...z(sound)) - Math.min(...z(broken))).toBeCloseTo(severity, 3)
    expect(Math.max(...z(sound))).toBeCloseTo(Math.max(...z(broken)), 3)
  })

  it('recovery too low: by its severity, and the drive stays where it is', () => {
    const { broken, sound } = played('recovery too low')
    const z = (all: readonly Float64Array[]) => blades(all).map((p) => p[2])
    const severity = severityOf(driverOf('recovery too low'), RIG, 'nominal')
    expect(Math.max(...z(sound)) - Math.max(...z(broken))).toBeCloseTo(severity, 3)
    expect(Math.min(...z(sound))).toBeCloseTo(Math.min(...z(broken)), 3)
  })

  it('blade line inboard: by its severity', () => {
    const { broken, sound } = played('blade line inboard')
    const severity = severityOf(driverOf('blade line inboard'), RIG, 'nominal')
    expect(blades(sound)[100]![1] - blades(broken)[100]![1]).toBeCloseTo(severity, 3)
  })

  it('sign of a joint: its motion about the park pose is turned round', () => {
    const { broken, sound } = played('sign of a joint')
    const park = new ReferenceDriver(RIG).parkPose[SWING]!
    for (const k of [300, 900]) expect(broken[k]![SWING]! - park).toBeCloseTo(park - sound[k]![SWING]!, 12)
    expect(broken[900]![SWING + 1]).toBe(sound[900]![SWING + 1])
  })

  it.each([
    ['degrees for radians', 180 / Math.PI],
    ['radians for degrees', Math.PI / 180],
  ])('%s: motions are %s times as large', (name, factor) => {
    const { broken, sound } = played(name)
    const { parkPose } = new ReferenceDriver(RIG)
    const moved = (all: readonly Float64Array[]) => all[300]![SWING]! - parkPose[SWING]!
    expect(moved(broken) / moved(sound)).toBeCloseTo(factor, 6)
  })

  it('sides swapped: the first three joints have those of the other arm', () => {
    const { broken, sound } = played('sides swapped')
    const n = RIG.arms[0]!.joints.length
    expect(broken[600]!.slice(0, 3)).toEqual(sound[600]!.slice(n, n + 3))
    expect(broken[600]!.slice(3, n)).toEqual(sound[600]!.slice(3, n))
  })

  it.each([
    ['stale setpoints', 4],
    ['setpoints stop', 1000],
  ])('%s: they stay the same for %s periods', (name, periods) => {
    const { broken, from } = played(name)
    const held = broken.slice(from, from + periods - 1)
    for (const q of held) expect(q[SWING]).toBe(held[0]![SWING])
  })

  it.each([
    ['jump at the reversal', 'shoulder', 3],
    ['noise on setpoints', 'swing', null],
  ] as const)('%s: a leap of the size that its severity says', (name, joint, leaps) => {
    const { broken, sound } = played(name)
    const j = jointOf(RIG, joint)
    if (leaps !== null) {
      const off = broken.map((q, k) => q[j]! - sound[k]![j]!)
      expect(span(off) / leastLeap(RIG, j)).toBeCloseTo(leaps, 6)
      return
    }
    const bends = broken.map((q, k) => q[j]! - sound[k]![j]!)
    const second = bends.slice(2).map((x, k) => x - 2 * bends[k + 1]! + bends[k]!)
    const rms = Math.sqrt(second.reduce((sum, x) => sum + x * x, 0) / second.length)
    expect(rms / leastLeap(RIG, j)).toBeCloseTo(0.1, 1)
    expect(rms / leastLeap(RIG, j)).toBeGreaterThan(0.09)
  })

  it('hum on setpoints: its amplitude is a tenth of the acceleration limit, and nothing leaps', () => {
    const { broken, sound } = played('hum on setpoints')
    const off = broken.slice(400).map((q, k) => q[SWING]! - sound[k + 400]![SWING]!)
    const omega = (2 * Math.PI) / 8 / period
    const amplitude = (0.1 * RIG.joints[SWING]!.limits.acceleration) / omega ** 2
    expect(span(off) / 2 / amplitude).toBeCloseTo(1, 2)
    expect(greatestBend(broken, SWING)).toBeLessThan(leastLeap(RIG, SWING))
  })

  it('no number once: one period, and then none', () => {
    const { broken } = played('no number once')
    expect(broken.filter((q) => Number.isNaN(q[SWING]!))).toHaveLength(1)
  })

  it('gives up: says so by an error that the bench takes for one', () => {
    expect(played('gives up').thrown).toMatchObject({ code: 'unreachable' })
  })

  it('ignores a zero command: the blade goes on', () => {
    const { broken, sound, from } = played('ignores a zero command')
    const stretch = (all: readonly Float64Array[]) => all.slice(from + 300, from + 600).map((q) => q[SWING]!)
    expect(span(stretch(broken))).toBeGreaterThan(5 * span(stretch(sound)))
  })

  it('deadlock after a stop: nothing moves though something is asked for', () => {
    const { broken, sound } = played('deadlock after a stop', 'large')
    const end = (all: readonly Float64Array[]) => span(all.slice(-600).map((q) => q[SWING]!))
    expect(end(broken)).toBe(0)
    expect(end(sound)).toBeGreaterThan(0.1)
  })

  it('resumes an old command: something moves though nothing is asked for', () => {
    const { broken, sound, from } = played('resumes an old command')
    const next = (all: readonly Float64Array[]) => span(all.slice(from, from + 400).map((q) => q[SWING]!))
    expect(next(sound)).toBe(0)
    expect(next(broken)).toBeGreaterThan(0.1)
  })

  it('no ramp: bends more than the sound driver', () => {
    const { broken, sound } = played('no ramp')
    expect(greatestBend(broken, SWING)).toBeGreaterThan(2 * greatestBend(sound, SWING))
  })

  it('sides drift apart: a stroke of port comes ever earlier', () => {
    const { broken, sound } = played('sides drift apart')
    expect(broken.at(-1)).not.toEqual(sound.at(-1))
    const n = RIG.arms[0]!.joints.length
    // In step a mirrored arm's shoulder stands as its fellow does.
    const apart = (q: Float64Array) => Math.abs(q[SWING + 1]! - q[n + 1]!)
    expect(Math.max(...sound.map(apart))).toBeLessThan(0.01)
    expect(Math.max(...broken.slice(-600).map(apart))).toBeGreaterThan(0.05)
  })
})
