import { describe, expect, test } from 'vitest'
import { type PhaseFunction, StrokeShape } from '../../../src/motion/stroke.js'

const shape = new StrokeShape(0.6, 0.7, 0.8)
const PARTS = ['x', 'rise', 'turn'] as const
type Part = (typeof PARTS)[number]

function at(part: Part, phase: number): PhaseFunction {
  shape.at(phase - Math.floor(phase))
  return { ...shape[part] }
}

/** Phases all around, with the joints of the pieces among them: a, b, 0, 0.5, 0.75 and both sides of each. */
const PHASES = [
  ...Array.from({ length: 400 }, (_, i) => i / 400),
  ...[shape.a, shape.b, 0, 0.5, 0.75].flatMap((p) => [p - 1e-7, p, p + 1e-7]),
]

describe.each(PARTS)('%s', (part) => {
  test('slope and curvature agree with central differences, across the wrap too', () => {
    const h = 1e-5
    for (const p of PHASES) {
      const { slope, curvature } = at(part, p)
      const numeric = (at(part, p + h).value - at(part, p - h).value) / (2 * h)
      const bend = (at(part, p + h).slope - at(part, p - h).slope) / (2 * h)
      expect(Math.abs(numeric - slope)).toBeLessThan(1e-6)
      // The curvature is continuous with corners: over h it differs by h times the third derivative (thousands at most).
      expect(Math.abs(bend - curvature)).toBeLessThan(0.1)
    }
  })

  test('curvature has no step', () => {
    const h = 1e-6
    for (const p of PHASES) {
      expect(Math.abs(at(part, p + h).curvature - at(part, p - h).curvature)).toBeLessThan(0.05)
    }
  })
})

test('goes from catch to exit over the length, with a constant slope on the middle part', () => {
  expect(at('x', 0).value).toBeCloseTo(0.3, 12)
  expect(at('x', 0.5).value).toBeCloseTo(-0.3, 12)
  expect(shape.b - shape.a).toBeCloseTo(0.35, 12)
  for (let p = shape.a; p <= shape.b; p += 0.01) {
    expect(at('x', p)).toEqual({ value: shape.kappa * (0.25 - p), slope: -shape.kappa, curvature: 0 })
    expect([at('rise', p).value, at('turn', p).value, shape.recovery(p)]).toEqual([0, 0, 0])
  }
})

test('turns only where the blade is out of the water, and is feathered and up at the park place', () => {
  for (const p of PHASES) if (at('rise', p).value < 0.8) expect(at('turn', p).value).toBe(0)
  expect([at('turn', 0.75).value, at('rise', 0.75).value, at('x', 0.75).value]).toEqual([1, 1, 0])
})

test('is the same stroke backwards', () => {
  for (const p of PHASES) {
    expect(at('x', 0.5 - p).value).toBeCloseTo(-at('x', p).value, 12)
    expect(at('rise', 0.5 - p).value).toBeCloseTo(at('rise', p).value, 12)
    expect(at('turn', 0.5 - p).value).toBeCloseTo(at('turn', p).value, 12)
  }
})
