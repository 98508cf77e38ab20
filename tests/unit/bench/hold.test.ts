import { describe, expect, it } from 'vitest'
import { type Hold, HoldKey, isHeld, keyCame, LAPSE, RELEASED } from '../../../src/bench/hold.js'

const MS = 1e6

/** The times (ms) of every 10 ms at which the key counts as held. */
function heldAt(keys: readonly number[], until: number): number[] {
  let hold: Hold = RELEASED
  let next = 0
  const held: number[] = []
  for (let t = 0; t <= until; t += 10) {
    while (next < keys.length && keys[next]! <= t) hold = keyCame(hold, keys[next++]! * MS)
    if (isHeld(hold, t * MS)) held.push(t)
  }
  return held
}

/** A key held from `from` to `to`: its first repetition after `delay`, then one each `every` ms. */
function keys(from: number, to: number, delay: number, every: number): number[] {
  const times = [from]
  for (let t = from + delay; t <= to; t += every) times.push(t)
  return times
}

describe('hold-to-run', () => {
  it('a tap moves nothing, nor do taps one after another', () => {
    expect(heldAt([100], 2000)).toEqual([])
    expect(heldAt([100, 400, 700, 1000, 1300], 2500)).toEqual([])
    // Two close together are a hand that trembles.
    expect(heldAt([100, 200, 800, 900, 1500, 1600], 2500)).toEqual([])
  })

  it.each([
    { delay: 600, every: 33 },
    { delay: 250, every: 30 },
    { delay: 500, every: 100 },
  ])(
    'held, with the first repetition after $delay ms and one each $every ms: from two repetitions later on, without a gap',
    ({ delay, every }) => {
      const held = heldAt(keys(0, 5000, delay, every), 7000)
      expect(held[0]).toBeLessThanOrEqual(delay + 2 * every + 10)
      expect(held[0]).toBeGreaterThanOrEqual(delay + 2 * every)
      // Every look in between sees it held.
      expect(held).toHaveLength((held.at(-1)! - held[0]!) / 10 + 1)
      // Let go of, it counts no longer than the lapse.
      expect(held.at(-1)).toBeLessThanOrEqual(5000 + LAPSE / MS)
    },
  )

  it('held again it goes on, after its repetitions have come again', () => {
    const twice = [...keys(0, 2000, 600, 33), ...keys(3000, 5000, 600, 33)]
    const held = heldAt(twice, 6000)
    expect(held.some((t) => t > 2300 && t < 3600)).toBe(false)
    expect(held).toContain(4000)
  })

  it('a line that stalls pauses: nothing runs on what was held before', () => {
    const stalled = keys(0, 1500, 600, 33)
    expect(heldAt([...stalled, 2500, 2501, 2502], 2495).at(-1)).toBeLessThanOrEqual(1500 + LAPSE / MS)
  })
})

describe('the key on its way', () => {
  it('is told to whoever listens last, and to nobody once nobody does', () => {
    const key = new HoldKey()
    const heard: string[] = []
    key.press()
    key.onPress(() => heard.push('first'))
    key.press()
    key.onPress(() => heard.push('second'))
    key.press()
    key.onPress(null)
    key.press()
    expect(heard).toEqual(['first', 'second'])
  })
})
