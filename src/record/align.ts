/**
 * Two records of the same things, each in its order: which of one is which of the other, when some are missing on either
 * side and times tell only about. As many pairs as there can be, and of those the ones that are closest in time; found by
 * dynamic programming as for a longest common subsequence (Wagner and Fischer, 1974), only near the diagonal.
 *
 * Nearest in time alone would not do: behind one that only one side has, each would be taken for its neighbour.
 */
import type { Nanos } from '../clock.js'

/** Cells that are worked out at most: of long records fewer neighbours are looked at than would be near enough. */
const MOST_CELLS = 8e6

const SKIP_B = 0
const SKIP_A = 1
const PAIR = 2

/**
 * @param a times, never falling
 * @param b times, never falling
 * @param apart longest time between the two of a pair
 * @returns [index in b] index in a, -1: none
 */
export function align(a: Float64Array, b: Float64Array, apart: Nanos): Int32Array {
  const pairs = new Int32Array(b.length).fill(-1)
  if (a.length === b.length && a.every((t, i) => Math.abs(t - b[i]!) <= apart)) return pairs.map((_, i) => i)
  const { from, to } = windows(a, b, apart)
  /** [index in b] how the best of the first so many was come by, for each number of the first of a in its window. */
  const moves: Uint8Array[] = []
  // Of the row above: pairs, and the time between them, by number of the first of a.
  let count = new Int32Array(1)
  let cost = new Float64Array(1)
  let above = 0
  for (let i = 0; i < b.length; i++) {
    const [low, high] = [from[i]!, to[i]!]
    const width = high - low + 1
    const row = new Uint8Array(width)
    const counts = new Int32Array(width)
    const costs = new Float64Array(width)
    for (let k = 0; k < width; k++) {
      // Beyond the end of the row above nothing of a was near enough yet: what is best there is best here.
      const up = Math.min(low + k - above, count.length - 1)
      let best = count[up]!
      let least = cost[up]!
      row[k] = SKIP_B
      if (k > 0) {
        const j = low + k - 1
        const before = Math.min(j - above, count.length - 1)
        const paired = count[before]! + 1
        const time = cost[before]! + Math.abs(a[j]! - b[i]!)
        if (paired > best || (paired === best && time < least)) {
          best = paired
          least = time
          row[k] = PAIR
        }
        if (counts[k - 1]! > best || (counts[k - 1]! === best && costs[k - 1]! <= least)) {
          best = counts[k - 1]!
          least = costs[k - 1]!
          row[k] = SKIP_A
        }
      }
      counts[k] = best
      costs[k] = least
    }
    moves.push(row)
    count = counts
    cost = costs
    above = low
  }
  let j = a.length
  for (let i = b.length - 1; i >= 0; i--) {
    const row = moves[i]!
    const low = from[i]!
    let k = Math.min(j - low, row.length - 1)
    while (row[k] === SKIP_A) k--
    if (row[k] === PAIR) pairs[i] = low + --k
    j = low + k
  }
  return pairs
}

/** Of each of b, what of a is near enough: `from` to before `to`. Neither ever falls. */
function windows(a: Float64Array, b: Float64Array, apart: Nanos): { from: Int32Array; to: Int32Array } {
  const reach = Math.max(1, Math.floor(MOST_CELLS / b.length / 2))
  const from = new Int32Array(b.length)
  const to = new Int32Array(b.length)
  let [low, middle, high] = [0, 0, 0]
  for (const [i, t] of b.entries()) {
    while (low < a.length && a[low]! < t - apart) low++
    while (middle < a.length && a[middle]! < t) middle++
    while (high < a.length && a[high]! <= t + apart) high++
    from[i] = Math.max(low, middle - reach)
    to[i] = Math.min(high, middle + reach)
  }
  return { from, to }
}
