/**
 * A bus, as everything above sees it: frames out, frames in, and a reason when a frame is refused. The mock and the
 * real adapters all keep this contract; tests/contracts/bus.ts holds every one of them to it.
 */
import type { Nanos } from '../clock.js'
import type { BusState, BusTrouble } from '../files/event.js'
import type { Frame } from '../wire/frame.js'

/** What `send` answers. Anything but `sent` means that the frame was dropped and will not be sent later. */
export type SendResult =
  | 'sent'
  | 'queue full'
  | 'too long'
  | 'bad identifier'
  | 'no such interface'
  | 'down'
  | 'not permitted'
  | 'bus-off'
  | 'closed'

/** A frame came in; `t` is when its last bit arrived. The frame may be kept, it is never reused. */
export type FrameListener = (frame: Frame, t: Nanos) => void

/** What the controller or the adapter reports: its state from now on, and the trouble that was seen, if any. */
export interface BusReport {
  readonly state: BusState
  readonly trouble: BusTrouble | null
  /** Error counters, null where the adapter cannot read them. */
  readonly transmitErrors: number | null
  readonly receiveErrors: number | null
  /** One sentence for people. */
  readonly says: string
}

export type ReportListener = (report: BusReport, t: Nanos) => void

/** Lets a frame through when its identifier equals `id` in the bits of `mask`. */
export interface Filter {
  readonly id: number
  readonly mask: number
  readonly extended: boolean
}

export interface Bus {
  readonly name: string
  /** Hands a frame over without waiting. Own frames are not received back. Frames leave in the order of handing over. */
  send(frame: Frame): SendResult
  /** Several listeners are called in the order of adding. Times never fall. */
  onFrame(listener: FrameListener): void
  /** From now on only frames that one of the filters lets through are received; null: all, as at first. */
  only(filters: readonly Filter[] | null): void
  /** Called when the state changes and when trouble is seen. A bus that comes back says so, and sends nothing by itself. */
  onReport(listener: ReportListener): void
  /** The last known. */
  readonly state: BusState
  /** How many handed-over frames are not yet on the wire. */
  readonly waiting: number
  /**
   * Takes back every frame that waits, so that a stop need not wait behind them; the one on the wire goes on, and so does
   * what the system or the adapter has already. Those do not count against the queue any more: a stop is not refused for them.
   * @returns how many were taken back; 0 also from an adapter that cannot
   */
  withdraw(): number
  /** After this nothing is sent or received. */
  close(): void
}
