import { describe, expect, it } from 'vitest'
import type { TimingWatch } from '../../../src/watch/timing.js'
import { watching } from './transcript.js'

const MS = 1e6
const PROCESS = { kind: 'process', t: 0, bench: 'normal', guardian: 'none', says: '' } as const

/** Ticks of 5 ms, late by so many ms each; null: missed. */
function ticking(late: readonly (number | null)[], real = true) {
  const seen = watching('timing')
  const watch = seen.watch as TimingWatch
  if (real) watch.see(PROCESS)
  late.forEach((ms, k) => {
    if (ms === null) return
    watch.see({ kind: 'tick', t: k * 5 * MS, k, late: ms * MS, setpoints: null, witness: null })
  })
  return { ...seen, watch }
}
const good = (n: number): number[] => Array.from({ length: n }, () => 0.1)

describe('timing watch', () => {
  it('says nothing in virtual time, and nothing of good ticks', () => {
    const virtual = ticking(good(100), false)
    virtual.watch.close()
    expect(virtual.findings).toEqual([])
    expect(virtual.watch.figures()).toEqual([])
    const real = ticking(good(100))
    real.watch.close()
    expect(real.findings).toEqual([])
    expect(real.watch.fault).toBeNull()
  })

  it('stops the run at the fourth late tick in a row, once', () => {
    const three = ticking([...good(10), 2, 2, 2, ...good(2), 2, 2, 2])
    expect(three.findings).toEqual([])
    const four = ticking([...good(10), 2, 2, 2, 2, 2, 2])
    expect(four.findings).toHaveLength(1)
    expect(four.findings[0]).toMatchObject({
      t: 13 * 5 * MS,
      severity: 'doubt',
      stop: 1,
      value: 2e-3,
      limit: 1e-3,
    })
  })

  it('counts ticks that were missed among those in a row', () => {
    expect(ticking([0, null, null, 11]).findings).toEqual([])
    expect(ticking([0, null, null, null, 16]).findings[0]).toMatchObject({ stop: 1, t: 20 * MS })
  })

  it('stops the run after ticks that were missed, however punctual the next one is', () => {
    expect(ticking([0, null, null, null, 0, null, 0]).findings).toEqual([])
    expect(ticking([0, null, null, null, null, 0]).findings[0]).toMatchObject({ stop: 1, t: 25 * MS })
  })

  it('counts no tick as missed between a stop and the SYNC of the next start', () => {
    const { watch } = ticking(good(3))
    watch.see({ kind: 'stage', t: 20 * MS, stage: 'setup' })
    // The tick that begins the start is told of after it.
    watch.see({ kind: 'tick', t: 20 * MS, k: 3, late: 0, setpoints: null, witness: null })
    watch.see({ kind: 'stage', t: 95 * MS, stage: 'seed' })
    watch.see({ kind: 'tick', t: 100 * MS, k: 20, late: 0, setpoints: null, witness: null })
    watch.see({ kind: 'tick', t: 110 * MS, k: 22, late: 0, setpoints: null, witness: null })
    watch.close()
    expect(watch.fault).toMatch(/^1 tick was missed/)
  })

  it('gives p50, p99, p99.9, greatest, late and missed ticks; the fault is told with the worst', () => {
    // Nearest rank of 2000 samples: p99 is the 1980th, p99.9 the 1998th.
    const { watch, findings } = ticking([
      ...good(1970),
      ...Array(20).fill(0.5),
      ...Array(9).fill(0.9),
      null,
      7,
    ])
    watch.close()
    const figures = Object.fromEntries(watch.figures().map((f) => [f.name, f.value]))
    expect(figures['tick lateness, 50 %']).toBeCloseTo(1e-4, 6)
    expect(figures['tick lateness, 99 %']).toBeCloseTo(5e-4, 5)
    expect(figures['tick lateness, 99.9 %']).toBeCloseTo(9e-4, 5)
    expect(figures['tick lateness, greatest']).toBeCloseTo(7e-3, 9)
    expect(figures['late ticks']).toBe(1)
    expect(figures['missed ticks']).toBe(1)
    expect(findings).toEqual([expect.objectContaining({ severity: 'warning', stop: null })])
    expect(watch.fault).toBe('1 tick was missed, the worst 7 ms late')
  })

  it('finds the bench at fault when more than one tick in a thousand is late, and not when it is one', () => {
    const one = ticking([...good(999), 2])
    one.watch.close()
    expect(one.watch.fault).toBeNull()
    const two = ticking([...good(997), 2, 0.1, 3])
    two.watch.close()
    expect(two.watch.fault).toBe('more than one tick in a thousand was late, the worst 3 ms late')
  })

  it('finds the bench at fault when simulated arms stood still in time while they were to move, and says so', () => {
    const { watch, findings } = ticking(good(100))
    const still = (t: number, times: number, ms: number): void =>
      watch.see({ kind: 'standstill', t: t * MS, times, longest: ms * MS })
    watch.see({ kind: 'stage', t: 0, stage: 'seed' })
    still(10, 1, 30)
    watch.see({ kind: 'stage', t: 100 * MS, stage: 'play' })
    still(150, 1, 4)
    still(200, 2, 7)
    still(250, 1, 3)
    expect(findings).toEqual([])
    watch.close()
    expect(watch.fault).toBe('the simulated arms stood still in time 4 times, for 7 ms at most')
    expect(findings).toMatchObject([
      {
        severity: 'warning',
        quantity: 'standstill of the simulated arms',
        value: 7e-3,
        t: 200 * MS,
        stop: null,
      },
    ])
  })

  it.each([
    ['all joints of a bus', [0, 1, 2], 'stand-in', 1],
    ['one joint: that is a fault of the arms', [1], 'stand-in', 0],
    ['all of a bus of arms that are no stand-in', [0, 1, 2], 'other', 0],
  ])('feedback that came only after the next SYNC: %s', (_, joints, arms, times) => {
    const { watch, findings } = ticking(good(100))
    if (arms === 'stand-in') watch.see({ kind: 'arms', t: 0, arms, says: '' })
    watch.see({ kind: 'stage', t: 0, stage: 'play' })
    for (let k = 1; k < 100; k++) {
      for (let joint = 0; joint < 6; joint++) {
        const late = joints.includes(joint)
        if (late && k === 50) continue
        for (let n = late && k === 51 ? 2 : 1; n > 0; n--)
          watch.see({ kind: 'feedback', t: (5 * k + 1) * MS, joint, index: k, position: 0 } as never)
      }
    }
    watch.close()
    expect(findings.map((f) => f.quantity)).toEqual(times === 0 ? [] : ['buses held up'])
    expect(watch.fault).toBe(
      times === 0 ? null : 'all feedback of a bus of the simulated arms came only after the next SYNC once',
    )
  })
})
