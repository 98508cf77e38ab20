/**
 * One bus of simulated arms that is served at several places, such as one for the harness and one for a driver that owns the bus:
 * what comes in at one goes to the arms and out at all others, as on one wire.
 *
 * Left out: arbitration between the ends; each takes frames as they come.
 */
import type { Bus, FrameListener, ReportListener, SendResult } from '../bus/contract.js'
import type { BusState } from '../files/event.js'

export class JoinedEnds implements Bus {
  readonly name: string
  readonly #ends: readonly Bus[]

  constructor(ends: readonly [Bus, ...Bus[]]) {
    this.name = ends[0].name
    this.#ends = ends
    for (const end of ends)
      end.onFrame((frame) => {
        for (const other of ends) if (other !== end) other.send(frame)
      })
  }

  /** It is alive as long as anybody is there. */
  get state(): BusState {
    return this.#ends.find((end) => end.state === 'active')?.state ?? this.#ends[0]!.state
  }

  get waiting(): number {
    return Math.max(...this.#ends.map((end) => end.waiting))
  }

  /** Taken when any end takes it: who is not there hears nothing, and the others do. */
  send(frame: Parameters<Bus['send']>[0]): SendResult {
    const results = this.#ends.map((end) => end.send(frame))
    return results.find((result) => result === 'sent') ?? results[0]!
  }

  onFrame(listener: FrameListener): void {
    for (const end of this.#ends) end.onFrame(listener)
  }

  onReport(listener: ReportListener): void {
    for (const end of this.#ends) end.onReport(listener)
  }

  /** Arms hear everything. */
  only(): void {}

  withdraw(): number {
    return this.#ends.reduce((sum, end) => sum + end.withdraw(), 0)
  }

  close(): void {
    for (const end of this.#ends) end.close()
  }
}
