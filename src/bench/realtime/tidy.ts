/**
 * Young garbage, collected while nothing is due. V8 does it by itself whenever its young space is full, for a millisecond, and
 * a tick or a frame that comes just then waits; done often, right after a tick has been finished, it takes a tenth of that.
 */

/** s */
const EVERY = 0.02

/**
 * @param period s, of the loop
 * @returns to be called after each tick, with the number of ticks before it. Does nothing where V8 does not let itself be told
 *   (`--expose-gc`).
 */
export function tidier(
  period: number,
  collect: (() => void) | null = youngCollector(),
): (ticks: number) => void {
  const every = Math.max(1, Math.round(EVERY / period))
  return (ticks) => {
    if (collect && ticks % every === 0) collect()
  }
}

function youngCollector(): (() => void) | null {
  const { gc } = globalThis as { gc?: (options: { type: 'minor' }) => void }
  return gc ? () => gc({ type: 'minor' }) : null
}
