/** From values to places in a picture, with ticks at round numbers. */

export interface Scale {
  readonly from: number
  readonly to: number
  /** Round numbers in ascending order, all inside [from, to]. */
  readonly ticks: readonly number[]
  /** Decimals that tell the ticks apart. */
  readonly decimals: number
  /** Place in picture units. */
  place(value: number): number
}

/** @param start place of `from`; @param end place of `to`; @param least how many ticks at least */
export function scale(from: number, to: number, start: number, end: number, least: number): Scale {
  const span = to - from
  const ticksAt = (step: number): number[] => {
    const all: number[] = []
    for (let i = Math.ceil(from / step - 1e-9); i * step <= to + step * 1e-9; i++) all.push(i * step)
    return all
  }
  // The coarsest of 1, 2, 5 times a power of ten that gives enough ticks; the finest gives at least fifty.
  const power = 10 ** Math.floor(Math.log10(span))
  const step = [5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02]
    .map((s) => s * power)
    .find((s) => ticksAt(s).length >= least)!
  const ticks = ticksAt(step)
  return {
    from,
    to,
    ticks,
    decimals: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)),
    place: (value) => start + ((value - from) / span) * (end - start),
  }
}

/** A range with some air, never empty. @param least smallest span */
export function withAir(low: number, high: number, least: number): readonly [number, number] {
  if (!(low <= high)) return [-least / 2, least / 2]
  const span = Math.max(high - low, least)
  const middle = (low + high) / 2
  return [middle - span * 0.56, middle + span * 0.56]
}
