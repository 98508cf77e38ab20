/** What a drive calls its states, for findings: bits of a statusword (CiA 402), or a number of its own (frame map). */
import type { Joint } from '../files/rig.js'

/** State bits of a statusword, and what they are in operation enabled (CiA 402). */
const STATE_BITS = 0x6f
const ENABLED_BITS = 0x27

export interface DriveWords {
  /** The state as it was said, and as it is when the drive is enabled. */
  readonly value: number
  readonly limit: number
  /** A sentence on a state that has no name. */
  readonly unnamed: string
  /** By what it says that it follows. */
  readonly following: string
  /** Where the drive says more of an error. */
  readonly error: string
}

/** @param word statusword, or number of the state signal */
export function driveWords({ wire }: Joint, word: number): DriveWords {
  if (wire.protocol === 'frames') {
    return {
      value: word,
      limit: wire.map.states.enabled[0]!,
      unnamed: `The state signal says ${word}, a number that the frame map "${wire.map.name}" does not name.`,
      following: 'state signal',
      error: "what the drive's own software says of its last error",
    }
  }
  const bits = (word & STATE_BITS).toString(16).toUpperCase().padStart(2, '0')
  return {
    value: word & STATE_BITS,
    limit: ENABLED_BITS,
    unnamed: `The statusword's state bits are ${bits}h, a combination that the standard does not define.`,
    following: 'statusword bit 12',
    error: "the drive's error code (603Fh)",
  }
}
