/** The nearest valid name to one that is not valid, for "did you mean". */
import { distance } from 'fastest-levenshtein'

/** Undefined when none is near: further away than two edits and than a third of the name's length. */
export function nearest(found: string, valid: readonly string[]): string | undefined {
  // A joint's name without its arm.
  const longer = valid.find((name) => name.endsWith(`.${found}`))
  if (longer !== undefined) return longer
  let best: string | undefined
  let least = Math.max(2, found.length / 3) + 0.5
  for (const name of valid) {
    const edits = distance(found.toLowerCase(), name.toLowerCase())
    // With two edits a short name turns into any other; half of it must stay.
    if (edits < least && edits <= Math.max(found.length, name.length) / 2) {
      best = name
      least = edits
    }
  }
  return best
}

/** `; did you mean "track"?`, or nothing. */
export function didYouMean(name: string | undefined): string {
  return name === undefined ? '' : `did you mean "${name}"?`
}

/** `one of port, starboard`; long lists are cut. */
export function oneOf(valid: readonly string[]): string {
  if (valid.length === 0) return 'none, because there are none'
  if (valid.length === 1) return valid[0]!
  return `one of ${valid.slice(0, 24).join(', ')}${valid.length > 24 ? ', ...' : ''}`
}
