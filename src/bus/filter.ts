/** Which frames a receiver lets through; for adapters whose controller does not do it. */
import type { Frame } from '../wire/frame.js'
import type { Filter } from './contract.js'

/** @param filters null: every frame passes; an empty list: none */
export function passes(frame: Frame, filters: readonly Filter[] | null): boolean {
  if (filters === null) return true
  // Above 28 bits, & would give negative numbers: both sides alike, so that comparing them is right all the same.
  return filters.some((f) => f.extended === frame.extended && (f.id & f.mask) === (frame.id & f.mask))
}
