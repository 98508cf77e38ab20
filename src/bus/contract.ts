/**
 * A bus, as everything above sees it: frames out, frames in, and a reason when a frame is refused. The mock and the
 * real adapters all keep this contract; tests/contracts/bus.ts holds every one of them to it.
 */
import type { Nanos } from '../clock.js'
import type { Frame } from '../wire/frame.js'

/** What `send` answers. Anything but `sent` means that the frame was dropped and will not be sent later. */
export type SendResult = 'sent' | 'queue full' | 'too long' | 'bad identifier' | 'down' | 'closed'

/** A frame came in; `t` is when its last bit arrived. The frame may be kept, it is never reused. */
export type FrameListener = (frame: Frame, t: Nanos) => void

export interface Bus {
  readonly name: string
  /** Hands a frame over without waiting. Own frames are not received back. Frames leave in the order of handing over. */
  send(frame: Frame): SendResult
  /** Several listeners are called in the order of adding. */
  onFrame(listener: FrameListener): void
  /** How many handed-over frames are not yet on the wire. */
  readonly waiting: number
  /**
   * Takes back every frame that waits, so that a stop need not wait behind them; the one on the wire goes on.
   * @returns how many were taken back; 0 also from an adapter that cannot
   */
  withdraw(): number
  /** After this nothing is sent or received. */
  close(): void
}
