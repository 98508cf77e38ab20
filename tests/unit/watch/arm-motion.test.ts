/** Motion of an arm from feedback that does not always come SYNC by SYNC. */
import { describe, expect, it } from 'vitest'
import { ArmMotion } from '../../../src/watch/arm-motion.js'

const PERIOD = 0.005
/** rad/s */
const SPEED = 2
const at = (k: number): number => SPEED * PERIOD * k

/** Greatest difference of any speed from the true one, with feedback as [index, true SYNC]; and how many speeds there were. */
function worst(feedback: readonly (readonly [number, number])[]): [number, number] {
  const motion = new ArmMotion(1, 3, PERIOD)
  let most = 0
  let count = 0
  for (const [index, k] of feedback) {
    if (!motion.see(0, index, at(k), 0)) continue
    count++
    most = Math.max(most, Math.abs(motion.qd[0]! - SPEED))
  }
  return [most, count]
}
const even = Array.from({ length: 20 }, (_, k) => [k, k] as const)

it('is exact for feedback that comes SYNC by SYNC', () => {
  const [off, count] = worst(even)
  expect(off).toBeLessThan(1e-9)
  expect(count).toBe(18)
})

it('begins anew where two answers came after one SYNC: the first of them was late', () => {
  // The answer of 10 comes after SYNC 11, and 11's own behind it.
  const [off, count] = worst(
    even.flatMap(
      ([k]) =>
        (k === 10
          ? []
          : k === 11
            ? [
                [11, 10],
                [11, 11],
              ]
            : [[k, k]]) as [number, number][],
    ),
  )
  expect(off).toBeLessThan(1e-9)
  expect(count).toBe(8 + 6)
})

describe('two joints', () => {
  /** Greatest difference of any speed from the true one, and how many there were. @param answers [joint, index, true SYNC], or an index: that SYNC came late */
  function worstOf(answers: readonly (readonly [number, number, number] | number)[]): [number, number] {
    const motion = new ArmMotion(2, 3, PERIOD)
    let [most, count] = [0, 0]
    for (const answer of answers) {
      if (typeof answer === 'number') motion.uneven(answer)
      else if (motion.see(answer[0], answer[1], at(answer[2]), 0)) {
        count++
        for (const speed of motion.qd) most = Math.max(most, Math.abs(speed - SPEED))
      }
    }
    return [most, count]
  }
  const both = (k: number, truly = k) =>
    [
      [0, k, truly],
      [1, k, truly],
    ] as const
  const from = (a: number, b: number, later = 0) =>
    Array.from({ length: b - a }, (_, i) => both(a + i, a + i + later)).flat()

  it('begin with a SYNC that one of them has answered once', () => {
    // The first joint's answer to 10 comes after SYNC 11, its own one to that behind it, and then the other joint's.
    const [off, count] = worstOf([...from(0, 10), [1, 10, 10], [0, 11, 10], ...both(11), ...from(12, 20)])
    expect(off).toBeLessThan(1e-9)
    expect(count).toBe(8 + 6)
  })

  it('begin with the SYNC that came late, not with an answer to the one before that comes behind it', () => {
    const [off, count] = worstOf([...from(0, 11), [0, 11, 11], 12, [1, 11, 11], ...from(12, 20, 4)])
    expect(off).toBeLessThan(1e-9)
    expect(count).toBe(9 + 6)
  })
})
