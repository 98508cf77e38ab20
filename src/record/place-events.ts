/**
 * Where a run's events stand among the frames of a log that somebody else wrote.
 *
 * An event comes before what it brought about and after what brought it about, whatever the clocks say: behind every
 * frame of the log that the recording has before it, and before every frame that the harness sent after it. Between
 * these, and where the recording's frames are missing, its time decides.
 */
import type { Nanos } from '../clock.js'

export interface TimedEvent {
  readonly t: Nanos
  /** Number of recorded frames before it. */
  readonly after: number
}

/** A frame of the log in the run's time. */
export interface MatchedFrame {
  readonly t: Nanos
  /** Index of the recorded frame that it is, -1: unknown. */
  readonly recorded: number
  readonly sent: boolean
}

/** candump cuts its times to whole microseconds. */
const CUT: Nanos = 1000

/**
 * @param frames in order of time
 * @param count of recorded frames; 0: they are missing
 * @returns [event] index of the frame before which it stands; never falls
 */
export function placeEvents(
  events: readonly TimedEvent[],
  frames: readonly MatchedFrame[],
  count: number,
): Int32Array {
  const { behind, before } = bounds(frames, count)
  const places = new Int32Array(events.length)
  let at = 0
  let last = 0
  for (const [i, e] of events.entries()) {
    while (at < frames.length && frames[at]!.t < Math.floor(e.t / CUT) * CUT) at++
    const after = Math.min(e.after, count)
    const place = Math.min(Math.max(at, behind[after]!), before[after]!)
    last = Math.max(last, place)
    places[i] = last
  }
  return places
}

/** [number of recorded frames before an event] least and greatest place that it may have. */
function bounds(frames: readonly MatchedFrame[], count: number): { behind: Int32Array; before: Int32Array } {
  const behind = new Int32Array(count + 1)
  const before = new Int32Array(count + 1).fill(frames.length)
  for (const [place, f] of frames.entries()) {
    if (f.recorded < 0) continue
    behind[f.recorded + 1] = place + 1
    if (f.sent) before[f.recorded] = place
  }
  for (let n = 1; n <= count; n++) behind[n] = Math.max(behind[n]!, behind[n - 1]!)
  for (let n = count - 1; n >= 0; n--) before[n] = Math.min(before[n]!, before[n + 1]!)
  return { behind, before }
}
