import type { Nanos } from '../clock.js'
import type { BenchEvent } from '../files/event.js'
import type { Frame } from '../wire/frame.js'

/** Everything that happens in a run goes here, in order: recording and judge behind it. */
export interface RunLog {
  frame(bus: number, frame: Frame, t: Nanos, sent: boolean): void
  event(e: BenchEvent): void
}
