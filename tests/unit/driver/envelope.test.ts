/** The envelope against other ways to the same figures: the driver itself, bisected blindly, and limits moved one at a time. */
import { describe, expect, it } from 'vitest'
import { envelopeOf } from '../../../src/driver/envelope/envelope.js'
import { Rays } from '../../../src/driver/envelope/rays.js'
import { SideLimits } from '../../../src/driver/envelope/side-limits.js'
import type { Joint, JointLimits, Rig } from '../../../src/files/rig.js'
import type { Scenario } from '../../../src/files/scenario.js'
import { allInside, type Boundary, type Envelope } from '../../../src/motion/envelope.js'
import { randomStream } from '../../../src/random.js'
import { DEMO, go, Player, withStroke } from './play.js'

const envelope = envelopeOf(DEMO, [], 48)

function scripted(...commands: readonly (readonly [surge: number, yaw: number])[]): Scenario {
  const timed = commands.map(([surge, yaw], i) => ({ at: 1 + i, surge, yaw, over: 0.5 }))
  return {
    name: 'some way',
    about: '',
    duration: 60,
    commands: timed,
    faults: [],
    operator: [],
    expect: {},
  } as unknown as Scenario
}

/** The ends of the envelope in any directions (rad): those of commands that way. */
function endsOf(rig: Rig, directions: readonly number[]): Boundary[] {
  const { track } = rig.craft
  const commands = directions.map((d) => [0.1 * Math.cos(d), (0.2 * Math.sin(d)) / track] as const)
  return envelopeOf(rig, [scripted(...commands)], 8).commands.map(({ boundary }) => boundary)
}

/** Greatest share of a speed or acceleration limit in a steady stroke, from the driver's setpoints alone. */
class Tried {
  readonly #player: Player

  constructor(rig: Rig) {
    this.#player = new Player(rig)
  }

  share(surge: number, yaw: number): number {
    const player = this.#player
    player.driver.begin()
    player.setpoints.set(player.driver.parkPose)
    const { acceleration, jerk } = player.rig.driver
    const fastest = Math.abs(surge) + Math.abs(yaw) * (player.rig.craft.track / 2)
    // Up to speed; coupled sides must have come into step as well.
    const coming = fastest / acceleration + acceleration / jerk + 1
    player.play(go(surge, yaw), player.rig.stroke.sides === 'free' ? coming : coming + 25)
    player.speedShare = 0
    player.accelerationShare = 0
    // A whole stroke: 1.26 m of blade speed go into one, and its recovery is no slower than its drive.
    player.play(go(surge, yaw), Math.min(20, Math.max(4, 1.3 / fastest)))
    return Math.max(player.speedShare, player.accelerationShare)
  }

  /** m/s along a direction, by halving between nothing and 2 m/s. */
  greatest(direction: number): number {
    const { track } = this.#player.rig.craft
    let [low, high] = [0, 2]
    for (let k = 0; k < 11; k++) {
      const middle = (low + high) / 2
      if (this.share(middle * Math.cos(direction), (middle * Math.sin(direction) * 2) / track) > 1)
        high = middle
      else low = middle
    }
    return (low + high) / 2
  }
}

describe('the boundary', () => {
  // Nothing of these may give out for another reason than what the driver's setpoints show.
  const strong = (rig: Rig): Rig => ({
    ...rig,
    clearance: null,
    joints: rig.joints.map((j) => ({ ...j, body: null })),
  })

  /**
   * With an eighth of the acceleration in the pitch joints, which feel the most of it when the phase gains speed for the recovery: 2.5 %
   * at the 0.12 m/s where they give out. All others have theirs where the rate is even.
   */
  const weakPitch = (rig: Rig): Rig => ({
    ...rig,
    joints: rig.joints.map((j) =>
      j.name.endsWith('.pitch')
        ? { ...j, limits: { ...j.limits, acceleration: j.limits.acceleration / 8 } }
        : j,
    ),
  })

  it.each([
    { name: 'sides free', rig: strong(DEMO) },
    { name: 'sides together', rig: strong(withStroke(DEMO, { sides: 'together' })) },
    {
      name: 'sides alternating, blades slipping',
      rig: { ...strong(withStroke(DEMO, { sides: 'alternating' })), driver: { ...DEMO.driver, slip: 0.1 } },
    },
    {
      name: 'so slow that the recovery runs ahead of the drive, and the phase has to gain speed for it',
      rig: weakPitch(strong(DEMO)),
    },
  ])('is where the driver itself is found to ask too much, by blind halving: $name', ({ rig }) => {
    const tried = new Tried(rig)
    const random = randomStream(7, 'directions')
    const some = Array.from(
      { length: rig.stroke.sides === 'free' ? 4 : 2 },
      () => 2 * Math.PI * random.uniform(),
    )
    const directions = [Math.PI / 2, ...some]
    const ends = endsOf(rig, directions)
    for (const [i, direction] of directions.entries()) {
      const { length } = ends[i]!
      const found = tried.greatest(direction)
      // 1 mm/s is the halving's own resolution; the rest is that setpoints are 5 ms apart.
      expect(Math.abs(length - found), `direction ${direction}: ${length} and ${found}`).toBeLessThan(
        0.001 + 0.004 * found,
      )
    }
  })

  it('is a rectangle of the four speeds of the sides, its corners among the directions', () => {
    const speed = (side: string, way: string): number =>
      envelope.sides.find((s) => s.side === side && s.way === way)!.speed
    for (const b of envelope.boundary) {
      const shares = [
        b.port / speed('port', b.port > 0 ? 'ahead' : 'astern'),
        b.starboard / speed('starboard', b.starboard > 0 ? 'ahead' : 'astern'),
      ].map(Math.abs)
      expect(Math.max(...shares)).toBeCloseTo(1, 9)
    }
    const corners = envelope.boundary.filter(({ limits }) => new Set(limits.map((l) => l.side)).size === 2)
    expect(corners.length).toBeGreaterThanOrEqual(4)
    expect(envelope.boundary.length).toBeGreaterThanOrEqual(48)
    const directions = envelope.boundary.map(({ direction }) => direction)
    expect(directions).toEqual([...directions].sort((a, b) => a - b))
  })

  it('does not turn on how many directions are asked for', () => {
    const few = envelopeOf(DEMO, [], 8)
    expect(few.sides).toEqual(envelope.sides)
    expect(few.named).toEqual(envelope.named)
  })
})

describe('what gives out first', () => {
  const ahead = (e: Envelope) => e.named.find(({ name }) => name === 'ahead')!.dry
  const joints = (change: (joint: Joint) => Partial<Joint>): Rig => ({
    ...DEMO,
    joints: DEMO.joints.map((j) => ({ ...j, ...change(j) })),
  })
  const limits = (name: string, change: (limits: JointLimits) => Partial<JointLimits>): Rig =>
    joints((j) => (j.name === name ? { limits: { ...j.limits, ...change(j.limits) } } : {}))

  it.each<[item: string, place: string | RegExp, rig: Rig]>([
    ['joint speed', 'port.elbow', limits('port.elbow', ({ speed }) => ({ speed: speed / 10 }))],
    [
      'joint acceleration',
      'starboard.roll',
      limits('starboard.roll', (l) => ({ acceleration: l.acceleration / 30 })),
    ],
    ['torque', 'port.shoulder', limits('port.shoulder', () => ({ torque: 12 }))],
    [
      'lasting torque',
      'starboard.shoulder',
      joints((j) =>
        j.name === 'starboard.shoulder' ? { rating: { continuous: 7, peak: 30, warmUp: null } } : {},
      ),
    ],
    ['following window', /\./, { ...DEMO, link: { ...DEMO.link, window: 0.005 } }],
    ['clearance', /, /, { ...DEMO, clearance: { ...DEMO.clearance!, least: 2 } }],
    [
      'bus load',
      DEMO.buses[0]!.name,
      // 31.3 % at 1 Mbit/s: a quarter more than it carries.
      { ...DEMO, buses: DEMO.buses.map((b, i) => (i === 0 ? { ...b, bitrate: 250_000 } : b)) },
    ],
    ['reach', 'port', limits('port.swing', () => ({ lower: 0.1 }))],
  ])('%s, at %s, when that is what lacks', (item, place, rig) => {
    const lacking = ahead(envelopeOf(rig, [], 8))
    const [limit] = lacking.limits
    expect(limit?.item).toBe(item)
    if (typeof place === 'string') expect(limit?.place).toBe(place)
    else expect(limit?.place).toMatch(place)
    expect(lacking.length).toBeLessThan(ahead(envelope).length)
  })

  it('is clearance as soon as the arms come nearer than the rig wants, and not before', () => {
    const nearest = Math.min(...envelope.approaches.map(({ distance }) => distance))
    const items = (least: number) =>
      new Rays({ ...DEMO, clearance: { ...DEMO.clearance!, least, warn: 2 * least } })
        .ends(0)
        .dry.limits.map(({ item }) => item)
    // Beyond the warning the least distance is found to 2 %.
    expect(items(0.97 * nearest)).not.toContain('clearance')
    expect(items(1.03 * nearest)).toContain('clearance')
  })

  it('holds torques against what the run lets drives give, and against their peak rating where that is less', () => {
    const told = (rig: Rig) => ahead(envelopeOf(rig, [], 8)).limits[0]!
    // 60 % of 12 N m.
    expect(told(limits('port.shoulder', () => ({ torque: 12 }))).says).toContain('7.2 N m')
    const rating = { continuous: 6, peak: 7, warmUp: null }
    const weak = told(joints((j) => (j.name === 'port.shoulder' ? { rating } : {})))
    expect(weak).toMatchObject({ item: 'torque', place: 'port.shoulder' })
    expect(weak.says).toContain('7 N m')
  })

  it('lets a joint go two control periods of way within the following window', () => {
    const even = joints((j) => ({ limits: { ...j.limits, speed: 5 } }))
    const { strains } = new SideLimits(even).limit('port', 'ahead', 1, false)
    const [speed, window] = (['joint speed', 'following window'] as const).map(
      (item) => strains.find((s) => s.item === item)!,
    )
    expect(window!.joint).toBe(speed!.joint)
    expect(window!.value).toBeCloseTo(2 * DEMO.control.period * speed!.value, 12)
  })

  it('is the range of commands for joints that could do anything', () => {
    const tireless = {
      ...joints((j) => ({ body: null, limits: { ...j.limits, speed: 1e4, acceleration: 1e6 } })),
      link: { ...DEMO.link, window: 100 },
    }
    const free = envelopeOf(tireless, [], 8)
    expect(ahead(free)).toMatchObject({ surge: 3, limits: [{ item: 'command range', place: 'surge' }] })
    const pivot = free.named.find(({ name }) => name === 'pivot to port')!.dry
    expect(pivot.yaw).toBeCloseTo(Math.PI, 12)
    expect(pivot.limits).toMatchObject([{ item: 'command range', place: 'yaw rate' }])
  })

  it('of one side leaves the other side its own way', () => {
    const weak = envelopeOf(
      limits('port.elbow', ({ speed }) => ({ speed: speed / 10 })),
      [],
      48,
    )
    const turn = (e: Envelope) => e.named.find(({ name }) => name === 'port side parked')!.dry
    expect(turn(weak)).toEqual(turn(envelope))
    expect(turn(weak).port).toBeCloseTo(0, 12)
    expect(ahead(weak).length).toBeLessThan(0.8 * ahead(envelope).length)
  })

  it('is not torque where the bodies are not stated, and says so', () => {
    const e = envelopeOf(
      joints(() => ({ body: null })),
      [],
      8,
    )
    expect(e.sides[0]!.strains.map(({ item }) => item)).not.toContain('torque')
    expect(e.assumptions.join('\n')).toContain('Torque was not looked at')
  })

  it('turns round with the speed cap', () => {
    const capped = envelopeOf({ ...DEMO, motion: { ...DEMO.motion, speedCap: 0.3 } }, [], 8)
    expect(ahead(capped).limits[0]!.item).toBe('joint speed')
    expect(capped.assumptions.join('\n')).toContain('speed cap of 30 %')
  })
})

it('of the demo rig is what its file says beside stroke.fastest: beyond the boundary afloat, where the rolls give out, and within the dry one', () => {
  const { dry, afloat } = envelope.named.find(({ name }) => name === 'ahead')!
  const fastest = DEMO.stroke.fastest!
  expect(afloat!.length.toFixed(2)).toBe('0.48')
  expect(afloat!.limits.map(({ item, inWater }) => [item, inWater])).toContainEqual([
    'torque',
    'standing start',
  ])
  expect(afloat!.limits.every(({ place }) => place.endsWith('.roll'))).toBe(true)
  expect(fastest).toBeGreaterThan(afloat!.length)
  expect(fastest).toBeLessThan(dry.length)
})

describe('commands', () => {
  const [end] = envelope.named.map(({ dry, afloat }) => (afloat!.length < dry.length ? afloat! : dry))

  it('lie at their share of the way to the boundary in their own direction', () => {
    const { surge } = end!
    const e = envelopeOf(
      DEMO,
      [scripted([surge / 2, 0], [0, 0], [0, -0.1], [surge / 2, 0], [1.01 * surge, 0])],
      8,
    )
    const [half, turning, outside] = e.commands
    expect(e.commands).toHaveLength(3)
    expect(half).toMatchObject({ scenario: 'some way', at: 1 })
    expect(half!.share).toBeCloseTo(0.5, 9)
    expect(turning!.boundary.yaw).toBeLessThan(0)
    expect(turning!.share).toBeCloseTo(-0.1 / turning!.boundary.yaw, 9)
    expect(outside!.share).toBeCloseTo(1.01, 9)
    expect(allInside(e)).toBe(false)
    expect(allInside({ ...e, commands: [half!, turning!] })).toBe(true)
  })

  it('are outside whatever they ask where nothing is borne at all', () => {
    const e = envelopeOf({ ...DEMO, clearance: { ...DEMO.clearance!, least: 2 } }, [scripted([0.01, 0])], 8)
    expect(e.commands[0]!.share).toBe(Number.POSITIVE_INFINITY)
    expect(allInside(e)).toBe(false)
  })
})
