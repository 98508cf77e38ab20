/**
 * The same frames in two records of one run: our own, and a log in another clock. From those that both have comes the
 * offset between the clocks, and then which frame of the log is which of ours.
 *
 * Both clocks are the system's, one of them possibly set by hand: the offset is taken as constant, for on Linux
 * CLOCK_REALTIME and CLOCK_MONOTONIC are slewed alike (clock_gettime(2)).
 */
import type { Nanos } from '../clock.js'
import type { Frame } from '../wire/frame.js'
import { align } from './align.js'

/** A frame with its place in one of the two records. */
export interface Placed {
  readonly bus: number
  readonly frame: Frame
  readonly t: Nanos
}

/** Witnesses of an offset may differ by this much: frames are stamped by us when we were told of them, by the kernel when it saw them. */
const AGREE: Nanos = 500e6
/** One frame's two stamps may be this far apart: while a run is being prepared nobody takes frames from the kernel for seconds. */
const APART: Nanos = 3e9
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
    while (differences[to]! - differences[from]! > AGREE) from++
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
 * Which recorded frame each frame of the log is: of those with the same bus and bits the one that keeps their order, loses
 * none without need, and is nearest in time then.
 * @param offset of the log's clock
 * @returns [frame of the log] index of the recorded frame, -1: none
 */
export function matchFrames(
  recorded: readonly Placed[],
  logged: readonly Placed[],
  offset: Nanos,
): Int32Array {
  const matches = new Int32Array(logged.length).fill(-1)
  const ours = byKey(recorded)
  for (const [key, theirs] of byKey(logged)) {
    const own = ours.get(key)
    if (own === undefined) continue
    const times = Float64Array.from(own, (i) => recorded[i]!.t)
    const pairs = align(
      times,
      Float64Array.from(theirs, (i) => logged[i]!.t - offset),
      APART,
    )
    for (const [k, i] of theirs.entries()) if (pairs[k]! >= 0) matches[i] = own[pairs[k]!]!
  }
  return matches
}

/** Indices of equal frames, in their order. */
function byKey(frames: readonly Placed[]): Map<string, number[]> {
  const groups = new Map<string, number[]>()
  for (const [i, f] of frames.entries()) {
    const key = keyOf(f)
    const group = groups.get(key)
    if (group === undefined) groups.set(key, [i])
    else group.push(i)
  }
  return groups
}

function keyOf({ bus, frame }: Placed): string {
  const { id, extended, remote, data } = frame
  let key = `${bus} ${extended ? 'x' : ''}${id}${remote ? 'r' : ' '}${data.length} `
  for (const byte of data) key += String.fromCharCode(byte)
  return key
}
