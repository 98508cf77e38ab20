/** A speed cap: the blade's path stays, the phase slows until no joint exceeds its share. */
import { readdirSync, readFileSync } from 'node:fs'
import { beforeAll, describe, expect, test } from 'vitest'
import { Player as Commands } from '../../../src/bench/player.js'
import { kinematicsOf } from '../../../src/driver/posture.js'
import { loadScenario, readRigFile } from '../../../src/files/load.js'
import type { Rig } from '../../../src/files/rig.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { DEMO, go, Player, withStroke } from './play.js'

const SCENARIOS = readdirSync('scenarios').filter((f) => f.endsWith('.yaml'))
/** With the watches that scenarios name. */
const WATCHED = readRigFile('rigs/reservoir-skiff.yaml', watchSchemas)
const CAPS = [1, 0.5, 0.2] as const

const withCap = (rig: Rig, speedCap: number): Rig => ({ ...rig, motion: { ...rig.motion, speedCap } })

/** m, each arm's blade centre: by forward kinematics from the setpoints. */
function blades(player: Player): () => Float64Array[] {
  const chains = player.rig.arms.map((arm) => ({ arm, chain: kinematicsOf(player.rig, arm).chain }))
  return () =>
    chains.map(({ arm, chain }) => {
      chain.forward(Float64Array.from(arm.joints, (i) => player.setpoints[i]!))
      return chain.blade.slice(9)
    })
}

/** m, from a point to the nearest piece of a polyline. */
function distance(p: Float64Array, line: readonly Float64Array[]): number {
  const [px, py, pz] = [p[0]!, p[1]!, p[2]!]
  let least = Number.POSITIVE_INFINITY
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1]!, line[i]!]
    const [dx, dy, dz] = [b[0]! - a[0]!, b[1]! - a[1]!, b[2]! - a[2]!]
    const length = dx * dx + dy * dy + dz * dz
    const along = dx * (px - a[0]!) + dy * (py - a[1]!) + dz * (pz - a[2]!)
    const t = length === 0 ? 0 : Math.min(1, Math.max(0, along / length))
    const [x, y, z] = [a[0]! + t * dx - px, a[1]! + t * dy - py, a[2]! + t * dz - pz]
    least = Math.min(least, x * x + y * y + z * z)
  }
  return Math.sqrt(least)
}

/** The closed curve of each blade: one slow stroke without a cap, from the middle of the recovery. */
function curves(rig: Rig): Float64Array[][] {
  const player = new Player(withCap(rig, 1))
  const at = blades(player)
  const lines: Float64Array[][] = rig.arms.map(() => [])
  player.play(go(0.1), 25, () => {
    for (const [arm, p] of at().entries()) lines[arm]!.push(p)
  })
  return lines
}

describe('over the demo scenarios', () => {
  let lines: Float64Array[][]
  beforeAll(() => {
    lines = curves(DEMO)
  })

  describe.each(CAPS)('cap %d', (cap) => {
    test.each(SCENARIOS)('%s', (file) => {
      const rig = withCap(DEMO, cap)
      const scenario = loadScenario(readFileSync(`scenarios/${file}`, 'utf8'), file, WATCHED)
      const commands = new Commands(scenario)
      const player = new Player(rig)
      const at = blades(player)
      const { period } = rig.control
      let [far, moved] = [0, 0]
      for (let k = 0; k * period < scenario.duration; k++) {
        player.step(commands.command(k * period))
        if (k % 23 !== 0) continue
        at().forEach((p, arm) => {
          // Lifting and carrying leave the curve, wherever they begin.
          if (player.driver.sides[rig.arms[arm]!.side].state !== 'stroking') return
          moved++
          far = Math.max(far, distance(p, lines[arm]!))
        })
      }
      expect(player.speedShare).toBeGreaterThan(0)
      expect(player.speedShare).toBeLessThanOrEqual(cap * (1 + 1e-9))
      expect(player.accelerationShare).toBeLessThan(1)
      expect(moved).toBeGreaterThan(100)
      // The polyline's pieces are chords: 3 um below the arc.
      expect(far).toBeLessThan(5e-6)
    })
  })
})

describe.each(['free', 'together', 'alternating'] as const)('sides: %s', (sides) => {
  const rig = withStroke(DEMO, { sides })

  test('a command far above what 10 % allows: as fast as the cap and no faster, and the accelerations are kept', () => {
    const player = new Player(withCap(rig, 0.1))
    for (const command of [go(0.4, 0.1), go(-0.4), go(0.1, -0.3), go(0)]) player.play(command, 15)
    expect(player.speedShare).toBeLessThanOrEqual(0.1 * (1 + 1e-9))
    expect(player.speedShare).toBeGreaterThan(0.09)
    expect(player.accelerationShare).toBeLessThan(1)
    player.play(go(0), 30)
    expect(player.driver.parked).toBe(true)
  })

  // Without the look ahead the phase would be caught by the cap at full rate: 2.5 to 7 times what joints can decelerate.
  test.each([0.5, 0.8])('cap %d: whatever is asked, the phase slows down in time', (cap) => {
    const player = new Player(withCap(rig, cap))
    for (const command of [go(1.5, 0.1), go(-1.5), go(0.1, -0.3), go(0)]) player.play(command, 8)
    expect(player.speedShare).toBeLessThanOrEqual(cap * (1 + 1e-9))
    expect(player.accelerationShare).toBeLessThan(0.8)
  })

  test('a cap that asks for nothing changes nothing, to the last bit', () => {
    const [free, capped] = [new Player(rig), new Player(withCap(rig, 0.999))]
    for (const command of [go(0.1), go(-0.05, 0.02)]) {
      for (let k = 0; k < 3000; k++) {
        free.step(command)
        capped.step(command)
        expect(capped.setpoints).toEqual(free.setpoints)
      }
    }
    expect(free.speedShare).toBeLessThan(0.8)
  })
})
