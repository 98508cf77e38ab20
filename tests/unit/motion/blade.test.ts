import { describe, expect, test } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import { BladePath, squareDrop, wetShare } from '../../../src/motion/blade.js'
import { StrokeShape } from '../../../src/motion/stroke.js'

const rig = readRigFile('rigs/reservoir-skiff.yaml', {})
const { stroke, craft } = rig
const shape = new StrokeShape(stroke.length, stroke.even, wetShare(stroke, rig.arms[0]!.paddle))
const pose = new Float64Array(12)
const ON_PATH = { reach: 1, lift: 0, carry: 0 }

/** A blade-frame vector in the craft frame. */
function turned(v: readonly number[]): number[] {
  return [0, 3, 6].map((r) => pose[r]! * v[0]! + pose[r + 1]! * v[1]! + pose[r + 2]! * v[2]!)
}

/** m above the water: the lowest corner of the blade, from its four corners (a second route to the path's own formula). */
function lowestEdge(arm: (typeof rig.arms)[number]): number {
  const { normal: n, shaft: s } = arm.tool
  const across = [n[1] * s[2] - n[2] * s[1], n[2] * s[0] - n[0] * s[2], n[0] * s[1] - n[1] * s[0]]
  const [up, side] = [turned(s)[2]!, turned(across)[2]!]
  const { length, width } = arm.paddle
  const corners = [-1, 1].flatMap((a) => [-1, 1].map((b) => (a * length * up) / 2 + (b * width * side) / 2))
  return pose[11]! + Math.min(...corners) + craft.waterline
}

describe.each(rig.arms)('$name', (arm) => {
  const path = new BladePath(shape, stroke, craft, arm)
  const outboard = arm.side === 'port' ? 1 : -1

  test('in the middle part: at depth, square to the drive, on the blade line, tip outboard', () => {
    for (const phase of [shape.a, 0.25, shape.b]) {
      path.pose({ ...ON_PATH, phase }, pose)
      expect(pose[11]).toBeCloseTo(-craft.waterline - stroke.immersion, 12)
      expect(pose[10]).toBe((outboard * craft.track) / 2)
      const shaft = turned(arm.tool.shaft)
      expect(turned(arm.tool.normal).map((x) => Math.round(x * 1e12) / 1e12 + 0)).toEqual([-1, 0, 0])
      expect(shaft[1]).toBeCloseTo(outboard * Math.sin(stroke.lean), 12)
      expect(shaft[2]).toBeCloseTo(-Math.cos(stroke.lean), 12)
    }
  })

  test('on the recovery the lowest edge runs at the clearance; nothing turns while any of the blade is wet', () => {
    for (let phase = 0; phase < 1; phase += 0.002) {
      path.pose({ ...ON_PATH, phase }, pose)
      const edge = lowestEdge(arm)
      expect(edge).toBeLessThanOrEqual(stroke.clearance + 1e-12)
      shape.at(phase)
      if (shape.rise.value === 1) expect(edge).toBeCloseTo(stroke.clearance, 12)
      if (edge < -1e-9) expect(turned(arm.tool.normal)[0]).toBeCloseTo(-1, 12)
    }
  })

  test('the pose is a proper rotation everywhere', () => {
    for (let phase = 0; phase < 1; phase += 0.01) {
      path.pose({ ...ON_PATH, phase }, pose)
      const [x, y, z] = [turned([1, 0, 0]), turned([0, 1, 0]), turned([0, 0, 1])]
      const dot = (a: number[], b: number[]) => a[0]! * b[0]! + a[1]! * b[1]! + a[2]! * b[2]!
      expect([dot(x, x), dot(y, y), dot(z, z)].every((d) => Math.abs(d - 1) < 1e-12)).toBe(true)
      expect([dot(x, y), dot(y, z), dot(z, x)].every((d) => Math.abs(d) < 1e-12)).toBe(true)
      const triple =
        x[0]! * (y[1]! * z[2]! - y[2]! * z[1]!) +
        x[1]! * (y[2]! * z[0]! - y[0]! * z[2]!) +
        x[2]! * (y[0]! * z[1]! - y[1]! * z[0]!)
      expect(triple).toBeCloseTo(1, 12)
    }
  })

  test('lifted and carried it ends on the path at the park place, whatever the phase and the length of the stroke', () => {
    const parked = new Float64Array(12)
    path.pose({ ...ON_PATH, phase: 0.75 }, parked)
    for (let phase = 0; phase < 1; phase += 0.05) {
      path.pose({ phase, reach: 0.4, lift: 1, carry: 1 }, pose)
      for (let i = 0; i < 12; i++) expect(pose[i]).toBeCloseTo(parked[i]!, 12)
      path.pose({ phase, reach: 0.4, lift: 1, carry: 0.3 }, pose)
      expect(lowestEdge(arm)).toBeCloseTo(stroke.clearance, 12)
    }
  })

  test('a shortened stroke is shorter along x only', () => {
    const full = new Float64Array(12)
    for (let phase = 0; phase < 1; phase += 0.05) {
      path.pose({ ...ON_PATH, phase }, full)
      path.pose({ ...ON_PATH, phase, reach: 0.5 }, pose)
      expect(pose[9]! - stroke.middle).toBeCloseTo((full[9]! - stroke.middle) / 2, 12)
      expect(pose.slice(10)).toEqual(full.slice(10))
    }
  })
})

test('port and starboard are mirror images', () => {
  const [port, starboard] = rig.arms.map((arm) => new BladePath(shape, stroke, craft, arm))
  const mirrored = (v: number[]) => [v[0], -v[1]!, v[2]]
  for (let phase = 0; phase < 1; phase += 0.03) {
    port!.pose({ ...ON_PATH, phase }, pose)
    const [normal, shaft] = [turned(rig.arms[0]!.tool.normal), turned(rig.arms[0]!.tool.shaft)]
    starboard!.pose({ ...ON_PATH, phase }, pose)
    mirrored(normal).forEach((x, i) => void expect(turned(rig.arms[1]!.tool.normal)[i]).toBeCloseTo(x!, 12))
    mirrored(shaft).forEach((x, i) => void expect(turned(rig.arms[1]!.tool.shaft)[i]).toBeCloseTo(x!, 12))
  }
})

test('what makes no sense is refused', () => {
  const arm = rig.arms[0]!
  const slanted = { ...arm, tool: { ...arm.tool, normal: [0, 0.8, 0.6] as const } }
  expect(() => new BladePath(shape, stroke, craft, slanted)).toThrow(/right angles/)
  expect(() => new BladePath(shape, { ...stroke, feather: 2 }, craft, arm)).toThrow(/feather/)
  expect(squareDrop({ lean: 0 }, arm.paddle)).toBe(arm.paddle.length / 2)
})
