import { describe, expect, it } from 'vitest'
import { randomStream } from '../../../src/random.js'
import { TRACE_BINS, TraceFold } from '../../../src/verdict/trace.js'

const NS = 5e6

function traced(cycles: number, setpoint: (k: number) => number, feedback: (k: number) => number) {
  const fold = new TraceFold(2)
  for (let k = 0; k < cycles; k++) {
    fold.see({ kind: 'setpoint', t: k * NS, joint: 1, index: k + 1, position: setpoint(k + 1) })
    fold.see({ kind: 'feedback', t: k * NS + 3e5, joint: 1, index: k, position: feedback(k), torque: 0 })
  }
  return fold.close()
}

describe('trace', () => {
  it('pairs as the tracking watch does', () => {
    const trace = traced(
      100,
      (index) => index,
      (k) => k - 1.25,
    )
    expect(trace).toMatchObject({ from: 3e5, bin: 5e6, bins: 100 })
    expect(trace.error[1]!.min[50]).toBe(0.25)
    expect(trace.setpoint[1]!.max[50]).toBe(49)
    expect(trace.feedback[1]!.max[50]).toBe(48.75)
    // Joint 0 was never seen; joint 1 had no setpoint before its first feedback.
    expect(trace.feedback[0]!.min.every(Number.isNaN)).toBe(true)
    expect(trace.error[1]!.min[0]).toBeNaN()
  })

  it.each([599, 600, 601, 1200, 1201, 12_345])(
    'keeps least and greatest of %d cycles in at most 600 bins',
    (cycles) => {
      const random = randomStream(5, 'trace')
      const values = Array.from({ length: cycles }, () => random.uniform())
      const trace = traced(
        cycles,
        () => 0,
        (k) => values[k]!,
      )
      expect(trace.bins).toBeLessThanOrEqual(TRACE_BINS)
      expect(trace.bins).toBeGreaterThanOrEqual(Math.min(cycles, TRACE_BINS / 2))
      const width = trace.bin / NS
      expect(trace.bins).toBe(Math.ceil(cycles / width))
      for (let b = 0; b < trace.bins; b++) {
        const inBin = values.slice(b * width, (b + 1) * width)
        expect(trace.feedback[1]!.min[b]).toBe(Math.min(...inBin))
        expect(trace.feedback[1]!.max[b]).toBe(Math.max(...inBin))
      }
    },
  )

  it('leaves empty spans empty when it joins them', () => {
    const fold = new TraceFold(1)
    fold.see({ kind: 'feedback', t: 0, joint: 0, index: 0, position: 1, torque: 0 })
    fold.see({ kind: 'feedback', t: 3e9, joint: 0, index: 1, position: 2, torque: 0 })
    const { feedback, bins, bin } = fold.close()
    expect(bin).toBe(1e7)
    expect(feedback[0]!.min[0]).toBe(1)
    expect(feedback[0]!.max[bins - 1]).toBe(2)
    expect(feedback[0]!.min.slice(1, bins - 1).every(Number.isNaN)).toBe(true)
  })
})
