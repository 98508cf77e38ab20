/** Feedback put together to sets of one SYNC, however the joints' answers lie to the SYNCs. */
import { describe, expect, it } from 'vitest'
import { JointSets } from '../../../src/watch/joint-sets.js'

/** What each joint says of SYNC k, so that a set of mixed SYNCs shows. */
const said = (place: number, index: number): number => 100 * index + place

/** All complete sets as [index, values], from feedback as [place, index]. */
function setsOf(n: number, order: readonly (readonly [number, number])[]): [number, number[]][] {
  const sets = new JointSets(n)
  return order.flatMap(([place, index]) =>
    sets.put(place, index, said(place, index)) ? [[sets.index, [...sets.q]] as [number, number[]]] : [],
  )
}
const whole = (n: number, index: number): [number, number[]] => [
  index,
  Array.from({ length: n }, (_, place) => said(place, index)),
]

describe('sets of joints', () => {
  it('are complete when all have answered one SYNC', () => {
    expect(
      setsOf(2, [
        [0, 5],
        [1, 5],
        [1, 6],
        [0, 6],
      ]),
    ).toEqual([whole(2, 5), whole(2, 6)])
  })

  it.each([1, 2, 3])(
    'of joints that are %i SYNCs behind the others all through a run are complete as well, and of one SYNC',
    (behind) => {
      const order = Array.from({ length: 20 }, (_, k) =>
        [0, 1, 2].map((p) => [p, p === 1 ? k - behind : k] as const),
      )
      const sets = setsOf(3, order.flat())
      expect(sets.filter(([k]) => k >= 0)).toEqual(Array.from({ length: 20 - behind }, (_, k) => whole(3, k)))
    },
  )

  it('that lack a joint are left out; the next ones are not held up', () => {
    expect(
      setsOf(2, [
        [0, 1],
        [1, 1],
        [0, 2],
        [0, 3],
        [1, 3],
        [0, 4],
        [1, 4],
      ]).map(([k]) => k),
    ).toEqual([1, 3, 4])
  })

  it('are none before the first SYNC', () => {
    expect(
      setsOf(2, [
        [0, -1],
        [1, -1],
        [0, 0],
        [1, 0],
      ]).map(([k]) => k),
    ).toEqual([0])
  })

  it('take the first of a doubled frame, and nothing of a set long before', () => {
    const sets = new JointSets(2)
    expect(sets.put(0, 7, 1)).toBe(false)
    expect(sets.put(0, 7, 2)).toBe(false)
    expect(sets.put(1, 7, 3)).toBe(true)
    expect([...sets.q]).toEqual([1, 3])
    expect(sets.put(1, 7, 4)).toBe(false)
    // Four SYNCs on: joint 0 is still to come.
    expect(sets.put(1, 11, 5)).toBe(false)
    expect(sets.put(0, 11, 6)).toBe(true)
    expect([...sets.q]).toEqual([6, 5])
  })

  it('are unsure once a joint has told two positions for one of them, not when a frame was only doubled', () => {
    const sets = new JointSets(2)
    sets.put(0, 7, 1)
    sets.put(0, 7, 1)
    sets.put(1, 7, 3)
    expect(sets.unsure).toBe(-1)
    sets.put(1, 7, 4)
    expect(sets.unsure).toBe(7)
  })

  it('are counted beside how many there could have been', () => {
    const sets = new JointSets(2)
    for (let k = 0; k < 10; k++) {
      sets.put(0, k, k)
      sets.put(0, k, k)
      // Joint 1 misses two, and answers six SYNCs later from then on.
      if (k < 4) sets.put(1, k, k)
      else if (k >= 6) sets.put(1, k - 6, k)
    }
    expect([sets.count, sets.possible]).toEqual([4, 8])
  })
})
