/**
 * The envelope afloat against the simulated plant: at its boundary, and nowhere short of it, the torques of arms afloat that are led by
 * the driver's own setpoints reach their limits.
 */
import { describe, expect, it } from 'vitest'
import { cruiseOf } from '../../../src/driver/envelope/cruise.js'
import { envelopeOf } from '../../../src/driver/envelope/envelope.js'
import { Rays } from '../../../src/driver/envelope/rays.js'
import type { Joint, Rig } from '../../../src/files/rig.js'
import { allInside, type Boundary, differ } from '../../../src/motion/envelope.js'
import { playAfloat } from './followed.js'
import { DEMO, withStroke } from './play.js'

const joints = (change: (joint: Joint) => Partial<Joint>, rig: Rig = DEMO): Rig => ({
  ...rig,
  joints: rig.joints.map((j) => ({ ...j, ...change(j) })),
})

/** Blades so large that the water is what joints bear; distances have tests of their own. */
const broad: Rig = {
  ...DEMO,
  clearance: null,
  arms: DEMO.arms.map((arm) => ({ ...arm, paddle: { ...arm.paddle, area: 0.06 } })),
}

const ends = (rig: Rig, name: string) => envelopeOf(rig, [], 8).named.find((n) => n.name === name)!

/** s until a side is at its speed, and a stroke more. */
const coming = ({ port, starboard }: Boundary): number =>
  Math.max(Math.abs(port), Math.abs(starboard)) / DEMO.driver.acceleration + 0.4

/** Greatest share of any joint's torque limit from `from` to `to` seconds. */
function greatest(
  rig: Rig,
  { surge, yaw }: Boundary,
  [from, to]: readonly [number, number],
  how: Parameters<typeof playAfloat>[3],
): { share: number; joint: string } {
  const most = { share: 0, joint: '' }
  playAfloat(rig, { surge, yaw }, to, how, ({ t, torques }) => {
    if (t < from) return
    for (const { index, name, limits } of rig.joints) {
      const share = Math.abs(torques[index]!) / (rig.link.torqueShare * limits.torque)
      if (share > most.share) Object.assign(most, { share, joint: name })
    }
  })
  return most
}

const AT_REST = { begin: [0, 0, 0], moored: true } as const

describe('the boundary from a standing start', () => {
  it.each(['ahead', 'astern', 'pivot to port'])(
    'is where the greatest torque of arms afloat reaches its limit, with the craft held where it is: %s',
    (name) => {
      const { afloat, dry } = ends(broad, name)
      expect(afloat!.limits[0]).toMatchObject({ item: 'torque', inWater: 'standing start' })
      expect(afloat!.length).toBeLessThan(0.9 * dry.length)
      const from = coming(afloat!)
      const seen = greatest(broad, afloat!, [from, from + 5], AT_REST)
      expect(Math.abs(seen.share - 1), `${seen.share} of ${seen.joint}`).toBeLessThan(0.01)
      expect(afloat!.limits.map(({ place }) => place)).toContain(seen.joint)
    },
  )

  it('is not passed by a craft that is free to go, and not by far reached: it makes way meanwhile', () => {
    const { afloat } = ends(broad, 'ahead')
    const { share } = greatest(broad, afloat!, [0, 8], { begin: [0, 0, 0], moored: false })
    expect(share).toBeLessThan(1.005)
    expect(share).toBeGreaterThan(0.6)
  })
})

it('from a standing start is the same after a way has been looked at, which the blades then no longer have', () => {
  const [fresh, used] = [new Rays(broad), new Rays(broad)]
  const [going] = used.going(0.4, 0)
  used.underWay!.settle(used.going(0.4, 0))
  used.underWay!.strains(going!)
  const standing = (rays: Rays) => rays.limits.limit('port', 'ahead', 1, true)
  expect(standing(used)).toEqual(standing(fresh))
})

describe('the boundary under way', () => {
  /** Wrists that may give what they like for a moment, and little for ever. */
  const warm = joints(
    (j) =>
      j.name.endsWith('.roll')
        ? { limits: { ...j.limits, torque: 60 }, rating: { continuous: 0.8, peak: 60, warmUp: null } }
        : {},
    broad,
  )

  it.each(['ahead', 'arc to port'])(
    'is where the root mean square of the torques reaches what motors bear for ever: %s',
    (name) => {
      const e = envelopeOf(warm, [], 8)
      const { afloat } = e.named.find((n) => n.name === name)!
      expect(afloat!.limits[0]).toMatchObject({ item: 'lasting torque', inWater: 'under way' })
      const { surge, yaw } = afloat!
      const { cruise } = envelopeOf(warm, [], 8, { surge, yaw })
      const begin = [cruise!.surge, cruise!.sway, cruise!.yaw] as const
      const from = coming(afloat!)
      // Whole strokes of the side that gives out.
      const { side, place } = afloat!.limits[0]!
      const to = from + 3 / cruise!.sides.find((s) => s.side === side)!.cadence
      const { index, rating } = warm.joints.find((j) => j.name === place)!
      let [squares, count] = [0, 0]
      playAfloat(warm, { surge, yaw }, to, { begin, moored: false }, ({ t, torques }) => {
        if (t < from) return
        count++
        squares += torques[index]! ** 2
      })
      const share = Math.sqrt(squares / count) / rating!.continuous
      expect(Math.abs(share - 1), String(share)).toBeLessThan(0.015)
    },
  )
})

describe('what only a craft under way asks for', () => {
  /** With a keel that lets it go straight on: the starboard blades drive it, and the port blades back water against its way. */
  const keel: Rig = {
    ...broad,
    hull: { ...broad.hull!, yaw: { linear: 0, quadratic: 1e4 } },
    joints: broad.joints.map((j) => ({
      ...j,
      rating: null,
      limits: { ...j.limits, torque: j.name === 'port.roll' ? 2.5 : 1000 },
    })),
  }

  it('is looked at: a peak of torque that a standing start does not have', () => {
    const rays = new Rays(keel)
    const [port, starboard] = [-0.1, 0.4]
    const { boundary } = rays.placed((port + starboard) / 2, (starboard - port) / keel.craft.track)
    expect(boundary.limits[0]).toMatchObject({ item: 'torque', place: 'port.roll', inWater: 'under way' })
    // A standing start bears a good deal more.
    const standing = rays.limits.limit('port', 'astern', 1, true).speed
    expect(-boundary.port).toBeLessThan(0.8 * standing)
    // So it is in the plant, once the craft has come to that way.
    const { surge, sway, yaw } = cruiseOf(keel, boundary, rays)
    const from = coming(boundary)
    const way = { begin: [surge, sway, yaw], moored: true } as const
    const seen = greatest(keel, boundary, [from, from + 12], way)
    expect(seen.joint).toBe('port.roll')
    expect(Math.abs(seen.share - 1), String(seen.share)).toBeLessThan(0.015)
  })

  it('is looked at halfway out too: torque that lasts may fall as strokes get faster', () => {
    const names = ['port.pitch', 'starboard.pitch']
    const rated = (continuous: number | null): Rig => ({
      ...DEMO,
      clearance: null,
      joints: DEMO.joints.map((j) => ({
        ...j,
        rating:
          continuous !== null && names.includes(j.name) ? { continuous, peak: 1000, warmUp: null } : null,
        // Strokes end at 0.2 m/s, by the speed of the feather joints.
        limits: j.name.endsWith('.feather') ? { ...j.limits, speed: 3.325 / DEMO.motion.speedCap } : j.limits,
      })),
    })
    const free = rated(null)
    const rays = new Rays(free)
    const { boundary } = rays.placed(0.2, 0)
    expect(boundary.limits[0]!.item).toBe('joint speed')
    /** N m, root of the mean square over three strokes of the plant under way. */
    const lasting = (share: number): number => {
      const command = { surge: share * boundary.surge, yaw: 0 }
      const { surge, sway, yaw, sides } = cruiseOf(free, command, rays)
      const from = coming({ ...boundary, port: command.surge, starboard: command.surge }) + 1
      const to = from + 3 / sides[0]!.cadence
      const { index } = free.joints.find(({ name }) => name === names[0])!
      let [squares, count] = [0, 0]
      playAfloat(free, command, to, { begin: [surge, sway, yaw], moored: false }, ({ t, torques }) => {
        if (t < from) return
        count++
        squares += torques[index]! ** 2
      })
      return Math.sqrt(squares / count)
    }
    const [half, whole] = [lasting(0.5), lasting(1)]
    expect(half).toBeGreaterThan(1.02 * whole)
    const given = new Rays(rated((half + whole) / 2)).ends(0).afloat!
    expect(given.limits[0]).toMatchObject({ item: 'lasting torque', inWater: 'under way' })
    expect(given.length).toBeLessThan(boundary.length / 2)
  })
})

describe('afloat', () => {
  it('is not looked at, and says why, on a rig that does not say what that takes', () => {
    const { afloat, lacksAfloat, named, sides, assumptions } = envelopeOf({ ...DEMO, hull: null }, [], 8)
    expect({ afloat, lacksAfloat }).toEqual({ afloat: null, lacksAfloat: 'the section hull' })
    expect(named.every((n) => n.afloat === null)).toBe(true)
    expect(sides.some((s) => s.afloat)).toBe(false)
    expect(assumptions.join('\n')).toContain(
      'Torque afloat was not looked at: the rig lacks the section hull',
    )
  })

  it('leaves what water has no part in where it is', () => {
    const slow = joints(({ limits }) => ({ limits: { ...limits, speed: limits.speed / 10 } }))
    for (const n of envelopeOf(slow, [], 8).named) {
      expect(differ(n)).toBe(false)
      expect(n.afloat).toEqual(n.dry)
    }
  })

  it('counts for whether a command lies inside', () => {
    const { dry, afloat } = ends(broad, 'ahead')
    const surge = (dry.surge + afloat!.surge) / 2
    const scenario = { name: 'between', commands: [{ at: 1, surge, yaw: 0, over: 0.5 }] }
    const e = envelopeOf(broad, [scenario as never], 8)
    const [command] = e.commands
    expect(command!.shares.dry).toBeLessThan(1)
    expect(command!.share).toBe(command!.shares.afloat)
    expect(command!.share).toBeCloseTo(surge / afloat!.surge, 9)
    expect(allInside(e)).toBe(false)
    expect(allInside({ ...e, commands: [] })).toBe(true)
  })

  it('holds for coupled sides too, with the slower side on its shortened stroke', () => {
    const together = withStroke(broad, { sides: 'together' })
    const { afloat, dry } = ends(together, 'arc to port')
    expect(afloat!.length).toBeLessThan(dry.length)
    const from = coming(afloat!) + 20
    const { share } = greatest(together, afloat!, [from, from + 5], AT_REST)
    expect(Math.abs(share - 1), String(share)).toBeLessThan(0.01)
  })
})
