/** Motion of an arm from feedback that does not always come SYNC by SYNC. */
import { expect, it } from 'vitest'
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
