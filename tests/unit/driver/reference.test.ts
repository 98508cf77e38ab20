import { readdirSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { kinematicsOf, parkPosture } from '../../../src/driver/posture.js'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import type { DrystrokeError } from '../../../src/errors.js'
import { readRigFile } from '../../../src/files/load.js'
import type { Rig, Vector3 } from '../../../src/files/rig.js'
import { randomStream } from '../../../src/random.js'
import { DEMO, go, Player, withStroke } from './play.js'

const MODES = ['free', 'together', 'alternating'] as const

describe.each(MODES)('sides: %s', (sides) => {
  const rig = withStroke(DEMO, { sides })

  test.each([
    { surge: 0.3, yaw: 0 },
    { surge: -0.25, yaw: 0 },
    { surge: 0.25, yaw: 0.1 },
    { surge: 0, yaw: 0.2 },
    { surge: 0.02, yaw: 0 },
  ])(
    'surge $surge, yaw $yaw: each blade moves at its side speed on the middle part, to 1e-9',
    ({ surge, yaw }) => {
      const player = new Player(rig)
      const { shape } = player.driver.strokes
      player.play(go(surge, yaw), 40)
      const wanted = { port: surge - (yaw * 2) / 2, starboard: surge + (yaw * 2) / 2 }
      for (const arm of rig.arms) {
        const { chain } = kinematicsOf(rig, arm)
        const side = player.driver.sides[arm.side]
        const blade = () => {
          chain.forward(Float64Array.from(arm.joints, (i) => player.setpoints[i]!))
          return chain.blade.slice(9)
        }
        // The longest run of periods wholly inside the middle part.
        let [runs, first, last, count] = [0, blade(), blade(), 0]
        let inside = false
        for (let k = 0; k < 8000 && runs < 2; k++) {
          player.step(go(surge, yaw))
          const now = side.phase > shape.a && side.phase < shape.b
          if (now && !inside) [first, count] = [blade(), 0]
          else if (now) [last, count] = [blade(), count + 1]
          else if (inside && ++runs === 2) break
          inside = now
        }
        expect(count).toBeGreaterThan(50)
        const speed = -(last[0]! - first[0]!) / (count * rig.control.period)
        expect(Math.abs(speed / wanted[arm.side] - 1)).toBeLessThan(1e-9)
        expect(side.speed).toBeCloseTo(wanted[arm.side], 12)
      }
    },
  )

  test('while commands change, each blade still moves at its side speed on the middle part, to 1e-8 m/s', () => {
    const player = new Player(rig)
    const { shape } = player.driver.strokes
    const random = randomStream(29, `changes ${sides}`)
    const chains = rig.arms.map((arm) => kinematicsOf(rig, arm).chain)
    const x = [0, 0]
    const speed = [0, 0]
    const inside = [false, false]
    let [seen, worst] = [0, 0]
    const look = () => {
      rig.arms.forEach((arm, a) => {
        const side = player.driver.sides[arm.side]
        const chain = chains[a]!
        chain.forward(Float64Array.from(arm.joints, (i) => player.setpoints[i]!))
        const now = side.state === 'stroking' && side.phase > shape.a && side.phase < shape.b
        if (now && inside[a]) {
          seen++
          const moved = (x[a]! - chain.blade[9]!) / rig.control.period
          worst = Math.max(worst, Math.abs(moved - (speed[a]! + side.speed) / 2))
        }
        x[a] = chain.blade[9]!
        speed[a] = side.speed
        inside[a] = now
      })
    }
    for (let i = 0; i < 30; i++)
      player.play(go(0.4 * (random.uniform() - 0.3), 0.3 * (random.uniform() - 0.5)), 2, look)
    expect(seen).toBeGreaterThan(2000)
    expect(worst).toBeLessThan(1e-8)
  })

  test('ahead to astern through zero: never parked, joints within their limits', () => {
    const player = new Player(rig)
    player.play(go(0.3), 12)
    // Reversals at many phases.
    for (let i = 0; i < 12; i++) {
      const states = new Set<string>()
      const see = () => states.add(player.driver.sides.port.state).add(player.driver.sides.starboard.state)
      player.play(go(-0.3), 5 + 0.37 * i, see)
      expect(player.driver.sides.port.speed).toBeCloseTo(-0.3, 6)
      player.play(go(0.3), 5 + 0.29 * i, see)
      expect([...states]).toEqual(['stroking'])
    }
    expect(player.speedShare).toBeLessThan(0.8)
    expect(player.accelerationShare, player.worst).toBeLessThan(0.8)
  })

  test('whatever the commands, no setpoint jumps: five minutes of them at random', () => {
    const player = new Player(rig)
    const random = randomStream(23, `commands ${sides}`)
    let parked = 0
    let speed = 0
    for (let t = 0; t < 300; ) {
      const lasts = random.uniform() < 0.2 ? 10 * random.uniform() : 2.5 * random.uniform()
      const kind = random.uniform()
      const surge = kind < 0.25 ? 0 : 0.6 * (random.uniform() - 0.5)
      const yaw = kind < 0.25 || kind > 0.7 ? 0 : 0.3 * (random.uniform() - 0.5)
      player.play(go(surge, yaw), lasts, () => {
        if (player.driver.parked) parked++
        speed = Math.max(speed, Math.abs(player.driver.sides.port.speed))
      })
      t += lasts
    }
    // It was a real exercise: parked at times, and went fast at times.
    expect(parked).toBeGreaterThan(100)
    expect(speed).toBeGreaterThan(0.25)
    expect(player.speedShare).toBeLessThan(1)
    expect(player.accelerationShare, player.worst).toBeLessThan(1)
  })
})

describe('parking', () => {
  test('begins parked, stays there on a zero command, and the setpoints are the park pose', () => {
    const player = new Player(DEMO)
    expect(player.driver.parked).toBe(true)
    player.play(go(0), 3)
    expect(player.driver.parked).toBe(true)
    expect(player.setpoints).toEqual(player.driver.parkPose)
  })

  test.each([2, 3.1, 3.9, 4.6, 5.3, 6.2])(
    'zero after %d s parks out of the water, without a jump',
    (seconds) => {
      const player = new Player(DEMO)
      player.play(go(0.35), seconds)
      const states: string[] = []
      const side = player.driver.sides.port
      player.play(go(0), 9, () => {
        if (states.at(-1) !== side.state) states.push(side.state)
      })
      expect(states.at(0)).toBe('stroking')
      expect(states.slice(-2)).toEqual(['carrying', 'parked'])
      expect(player.driver.parked).toBe(true)
      for (const [i, x] of player.driver.parkPose.entries()) expect(player.setpoints[i]).toBeCloseTo(x, 8)
      expect(player.speedShare).toBeLessThan(0.8)
      expect(player.accelerationShare, player.worst).toBeLessThan(0.8)
    },
  )

  test('zero for less than the dwell does not park', () => {
    const player = new Player(DEMO)
    player.play(go(0.3), 6)
    // 0.3 m/s at 0.4 m/s2 and 2 m/s3 takes 0.95 s to lose; then 0.9 s of the dwell of 1 s.
    player.play(go(0), 0.95 + 0.9)
    expect(player.driver.sides.port.speed).toBe(0)
    expect(player.driver.sides.port.state).toBe('stroking')
    player.play(go(0.3), 5)
    expect(player.driver.sides.port.state).toBe('stroking')
    player.play(go(0), 0.95 + 1.1)
    expect(player.driver.sides.port.state).not.toBe('stroking')
  })

  test('a command while parking waits until parked, then goes', () => {
    const player = new Player(DEMO)
    player.play(go(0.3), 5)
    player.play(go(0), 2.5)
    const { port } = player.driver.sides
    expect(port.state).toBe('lifting')
    const seen: string[] = []
    player.play(go(-0.3), 8, () => {
      if (seen.at(-1) !== port.state) seen.push(port.state)
    })
    expect(seen.slice(0, 2)).toEqual(['lifting', 'carrying'])
    expect(seen.at(-1)).toBe('stroking')
    expect(port.speed).toBeCloseTo(-0.3, 9)
  })

  test('ahead leaves the park place towards the catch, astern towards the exit', () => {
    for (const [surge, side] of [
      [0.3, 1],
      [-0.3, -1],
    ] as const) {
      const player = new Player(DEMO)
      player.play(go(surge), 0.8)
      expect((player.driver.sides.port.phase - 0.75) * side).toBeGreaterThan(0.01)
    }
  })

  test('begin is a fresh start', () => {
    const player = new Player(DEMO)
    const fresh = new Float64Array(12)
    const again = new Float64Array(12)
    player.driver.step(go(0.3), fresh)
    player.play(go(0.3, 0.1), 7)
    player.driver.begin()
    expect(player.driver.parked).toBe(true)
    player.driver.step(go(0.3), again)
    expect(again).toEqual(fresh)
  })
})

describe('coupled sides', () => {
  const cycles = (mode: 'together' | 'alternating') => {
    const player = new Player(withStroke(DEMO, { sides: mode }))
    const { port, starboard } = player.driver.sides
    // Out of step on purpose: port first.
    player.play(go(0.2, -0.2), 3)
    player.play(go(0.3, 0.05), 90)
    let [sine, cosine] = [0, 0]
    player.play(go(0.3, 0.05), 20, () => {
      sine += Math.sin(2 * Math.PI * (port.phase - starboard.phase))
      cosine += Math.cos(2 * Math.PI * (port.phase - starboard.phase))
    })
    return {
      mean: Math.atan2(sine, cosine) / (2 * Math.PI),
      steadiness: Math.hypot(sine, cosine) / 4000,
      port,
      starboard,
    }
  }

  test('together: in step, the slower side with the shorter stroke', () => {
    const { mean, steadiness, port, starboard } = cycles('together')
    expect(Math.abs(mean)).toBeLessThan(0.01)
    expect(steadiness).toBeGreaterThan(0.99)
    expect(port.reach).toBeCloseTo(0.25 / 0.35, 3)
    expect(starboard.reach).toBeCloseTo(1, 3)
  })

  test('alternating: half a cycle apart', () => {
    const { mean, steadiness } = cycles('alternating')
    expect(Math.abs(Math.abs(mean) - 0.5)).toBeLessThan(0.02)
    expect(steadiness).toBeGreaterThan(0.97)
  })

  test('opposite signs run the path backwards on one side, in step as seen along each path', () => {
    const player = new Player(withStroke(DEMO, { sides: 'together' }))
    const { port, starboard } = player.driver.sides
    player.play(go(0, 0.25), 60)
    const [p, s] = [port.phase, starboard.phase]
    player.step(go(0, 0.25))
    expect((port.phase - p + 1.5) % 1).toBeLessThan(0.5)
    expect((starboard.phase - s + 1.5) % 1).toBeGreaterThan(0.5)
    const apart = Math.abs(((0.5 - port.phase - starboard.phase + 2.5) % 1) - 0.5)
    expect(apart).toBeLessThan(0.01)
  })
})

describe('slip', () => {
  test('raises the side speeds', () => {
    const player = new Player({ ...DEMO, driver: { ...DEMO.driver, slip: 0.2 } })
    player.play(go(0.2), 10)
    expect(player.driver.sides.port.speed).toBeCloseTo(0.24, 12)
  })
})

describe('unreachable', () => {
  function refusal(act: () => unknown): DrystrokeError {
    try {
      act()
    } catch (error) {
      return error as DrystrokeError
    }
    throw new Error('nothing was refused')
  }

  test('a park place out of reach refuses the rig', () => {
    const far = withStroke(DEMO, { middle: 3 })
    const error = refusal(() => new ReferenceDriver(far))
    expect(error.code).toBe('unreachable')
    expect(error.message).toMatch(/arm port .*park place .*check/)
  })

  test('a stroke that is too long stops at the phase where it gives out', () => {
    const player = new Player(withStroke(DEMO, { length: 1.7 }))
    const error = refusal(() => player.play(go(0.4), 20))
    expect(error.code).toBe('unreachable')
    expect(error.context).toMatchObject({ arm: 'port' })
    expect(error.context.phase).toBeCloseTo(player.driver.sides.port.phase, 3)
    expect(error.message).toMatch(/phase 0\.\d+ .*shorten/)
  })

  test('a joint range that is too narrow is named', () => {
    const joints = DEMO.joints.map((j) =>
      j.name === 'starboard.swing' ? { ...j, limits: { ...j.limits, lower: -0.2, upper: 0.2 } } : j,
    )
    const player = new Player({ ...DEMO, joints })
    const error = refusal(() => player.play(go(0.4), 20))
    expect(error.context).toMatchObject({ arm: 'starboard', joint: 'starboard.swing' })
    expect(error.message).toContain('joint starboard.swing would be')
  })

  test('a pose too near a singular one is refused with its measure', () => {
    const player = new Player({ ...DEMO, driver: { ...DEMO.driver, singularity: 0.15 } })
    const error = refusal(() => player.play(go(0.4), 20))
    expect(error.message).toMatch(/singularity measure is 0\.1\d+, below 0\.15/)
  })

  test('more constrained axes than joints are refused', () => {
    const arms = DEMO.arms.map((arm) => ({ ...arm, joints: arm.joints.slice(0, 5) }))
    expect(refusal(() => new ReferenceDriver({ ...DEMO, arms })).code).toBe('file-invalid')
  })
})

const GOLDEN = 'tests/golden/rigs/'
describe.each(readdirSync(GOLDEN))('%s', (file) => {
  test('a full stroke ahead and one astern, parked at the end', () => {
    const rig = readRigFile(GOLDEN + file, {})
    const player = new Player(rig)
    let [forward, last] = [0, 0.75]
    const count = () => {
      const { phase } = player.driver.sides.port
      forward += ((phase - last + 1.5) % 1) - 0.5
      last = phase
    }
    player.play(go(0.3), 7, count)
    expect(forward).toBeGreaterThan(1)
    const turned = forward
    player.play(go(-0.3, 0.05), 10, count)
    expect(forward).toBeLessThan(turned - 1)
    player.play(go(0), 9)
    expect(player.driver.parked).toBe(true)
    for (const [i, x] of player.driver.parkPose.entries()) expect(player.setpoints[i]).toBeCloseTo(x, 6)
    expect(player.speedShare).toBeLessThan(0.8)
    expect(player.accelerationShare, player.worst).toBeLessThan(0.8)
  })
})

test('one arm alone is a rig too', () => {
  const arm = { ...DEMO.arms[0]!, joints: [0, 1, 2, 3, 4, 5] }
  const rig = { ...withStroke(DEMO, { sides: 'together' }), arms: [arm], joints: DEMO.joints.slice(0, 6) }
  const player = new Player(rig)
  player.play(go(0.3, 0.4), 10)
  expect(player.driver.sides.port.speed).toBeCloseTo(-0.1, 9)
  player.play(go(0), 8)
  expect(player.driver.parked).toBe(true)
})

test.each(['rigs/reservoir-skiff.yaml', ...readdirSync(GOLDEN).map((file) => GOLDEN + file)])(
  '%s: without a command the driver stands at the park pose, to 1e-9 rad, and a start leaves it gently',
  (file) => {
    const player = new Player(readRigFile(file, {}))
    const { parkPose } = player.driver
    player.step(go(0))
    for (const [i, q] of parkPose.entries()) expect(Math.abs(player.setpoints[i]! - q)).toBeLessThan(1e-9)
    player.step(go(0.3))
    expect(player.speedShare).toBeLessThan(0.05)
  },
)

test('a posture in which a spare joint never comes to rest is no park pose', () => {
  const arm = DEMO.arms[0]!
  const path = new ReferenceDriver(DEMO).strokes.paths[0]!
  const ik = kinematicsOf(DEMO, arm)
  let [drift, calls] = [0, 0]
  const drifting = {
    solve: (target: Float64Array, q: Float64Array) => {
      const outcome = ik.solve(target, q)
      q[5] = q[5]! + drift * ++calls
      return outcome
    },
    singularity: 1,
    margin: 1,
    joint: 0,
  } as unknown as typeof ik
  // Arms that nobody has seen before: those that were found are kept.
  expect(parkPosture(DEMO, { ...arm }, path, drifting)).toHaveLength(6)
  drift = 1e-8
  expect(() => parkPosture(DEMO, { ...arm }, path, drifting)).toThrow(
    /cannot hold its blade at the park place/,
  )
})

test('a park pose that was found is kept for the same rig, and for no other', () => {
  const found = new ReferenceDriver(DEMO).parkPose
  expect(new ReferenceDriver({ ...DEMO }).parkPose).toEqual(found)
  const longer = ([x, y, z]: Vector3): Vector3 => [1.02 * x, 1.02 * y, 1.02 * z]
  const others: Rig[] = [
    { ...DEMO, stroke: { ...DEMO.stroke, clearance: 0.1 } },
    { ...DEMO, craft: { ...DEMO.craft, waterline: 0.35 } },
    {
      ...DEMO,
      joints: DEMO.joints.map((j) => ({ ...j, origin: { ...j.origin, at: longer(j.origin.at) } })),
    },
  ]
  for (const other of others) {
    const { parkPose } = new ReferenceDriver(other)
    expect(parkPose).not.toEqual(found)
    // The same, of objects that nobody has seen before.
    expect(parkPose).toEqual(new ReferenceDriver(structuredClone(other)).parkPose)
  }
})
