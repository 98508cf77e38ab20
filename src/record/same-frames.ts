/**
 * The same frames in two records of one run: our own, and a log in another clock. From those that both have comes the
 * offset between the clocks, and then which frame of the log is which of ours.
 *
 * Both clocks are the system's, one of them possibly set by hand: the offset is taken as constant, for on Linux
 * CLOCK_REALTIME and CLOCK_MONOTONIC are slewed alike (clock_gettime(2)).
 */
import type { Nanos } from '../clock.js'
import type { Frame } from '../wire/frame.js'

/** A frame with its place in one of the two records. */
export interface Placed {
  readonly bus: number
  readonly frame: Frame
  readonly t: Nanos
}

/** Frames of one instant may be stamped this far apart: by us when we were told of them, by the kernel when it saw them. */
const APART: Nanos = 500e6
/** With fewer witnesses an offset is not believed. */
const LEAST_WITNESSES = 10

/**
 * The offset on which most frames that occur once in each record agree, the middle one of theirs.
 * @returns time of the log minus time of the run; null when fewer than ten agree: the records are of two runs, or nothing moved
 */
export function clockOffset(recorded: readonly Placed[], logged: readonly Placed[]): Nanos | null {
  const ours = singles(recorded)
  const differences: number[] = []
  for (const [key, t] of singles(logged)) {
    const own = ours.get(key)
    if (own !== undefined) differences.push(t - own)
  }
  differences.sort((a, b) => a - b)
  let best = { from: 0, count: 0 }
  for (let from = 0, to = 0; to < differences.length; to++) {
    while (differences[to]! - differences[from]! > APART) from++
    if (to - from + 1 > best.count) best = { from, count: to - from + 1 }
  }
  if (best.count < LEAST_WITNESSES) return null
  return differences[best.from + (best.count >> 1)]!
}

/** Frames that occur once, and when. */
function singles(frames: readonly Placed[]): Map<string, Nanos> {
  const once = new Map<string, Nanos>()
  const again = new Set<string>()
  for (const f of frames) {
    const key = keyOf(f)
    if (once.has(key)) again.add(key)
    else once.set(key, f.t)
  }
  for (const key of again) once.delete(key)
  return once
}

/**
 * Which recorded frame each frame of the log is: the one with the same bus and bits that is nearest in time, in order.
 * @param offset of the log's clock
 * @returns [frame of the log] index of the recorded frame, -1: none
 */
export function matchFrames(
  recorded: readonly Placed[],
  logged: readonly Placed[],
  offset: Nanos,
): Int32Array {
  const waiting = new Map<string, { at: number; indices: number[] }>()
  for (const [i, f] of recorded.entries()) {
    const key = keyOf(f)
    const queue = waiting.get(key)
    if (queue === undefined) waiting.set(key, { at: 0, indices: [i] })
    else queue.indices.push(i)
  }
  const matches = new Int32Array(logged.length).fill(-1)
  for (const [i, f] of logged.entries()) {
    const queue = waiting.get(keyOf(f))
    if (queue === undefined) continue
    const apart = (place: number): number => Math.abs(recorded[queue.indices[place]!]!.t - (f.t - offset))
    // Those that this one is too late for are not in the log.
    while (queue.at + 1 < queue.indices.length && apart(queue.at + 1) < apart(queue.at)) queue.at++
    if (queue.at < queue.indices.length && apart(queue.at) <= APART) matches[i] = queue.indices[queue.at++]!
  }
  return matches
}

function keyOf({ bus, frame }: Placed): string {
  const { id, extended, remote, data } = frame
  let key = `${bus} ${extended ? 'x' : ''}${id}${remote ? 'r' : ' '}${data.length} `
  for (const byte of data) key += String.fromCharCode(byte)
  return key
}
