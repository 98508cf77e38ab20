/**
 * What a leap of an encoder's counts looks like. A word of w bits that is cut off, or read with the wrong sign, is off by a whole multiple
 * of 2^w; a counter that wraps leaps by its range, a power of two; a lost or gained turn is a whole turn.
 */

/** Lengths of words that counters and codecs have, and the least power of two that is named at all. */
const WORDS = [32, 24, 20, 18, 17, 16, 14, 12] as const
/** A word cut off is told up to so many of its multiples: beyond that anything fits one. */
const MOST = 8
/** A pattern is named when chance would hit it less often than about once in so many. */
const RARE = 8

/**
 * @param counts size of the leap @param doubt counts by which the size may be off: motion and noise in between
 * @returns such as `2^16 counts`, or null when it is no such number
 */
export function powerOfTwo(counts: number, doubt: number): string | null {
  const size = Math.abs(counts)
  const n = Math.round(Math.log2(size))
  if (near(size, 2 ** n, doubt)) return `2^${n} counts`
  for (const bits of WORDS) {
    const m = Math.round(size / 2 ** bits)
    if (m >= 1 && m <= MOST && near(size, m * 2 ** bits, doubt, 2 ** bits)) return `${m} x 2^${bits} counts`
  }
  return null
}

/** @param angle rad @param doubt rad @returns whole turns that the angle is, 0: it is no such number */
export function wholeTurns(angle: number, doubt: number): number {
  const turns = Math.round(angle / (2 * Math.PI))
  return Math.abs(angle - turns * 2 * Math.PI) <= doubt ? turns : 0
}

function near(size: number, value: number, doubt: number, spacing = value): boolean {
  return spacing >= RARE * doubt && Math.abs(size - value) <= doubt
}
