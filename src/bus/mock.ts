/**
 * A classical CAN bus in memory: arbitration by identifier, exact frame times, transmit queues, error counters with
 * error passive and bus-off, error frames and automatic retransmission.
 *
 * Left out:
 * - bit timing and resynchronisation, propagation, oscillator tolerance: all ports see every bit at one instant;
 * - errors at the very end of a frame, which bring it twice to some receivers;
 * - the suspend of an error-passive sender that is not alone (8 bits), overload frames;
 * - traffic while a controller waits to come back from bus-off: the wait is 128 x 11 bits of a silent bus.
 *
 * Rules that a real bus leaves open, fixed here so that a run repeats:
 * - Frames offered at one instant arbitrate together. Arbitration is a task at that instant behind the tasks
 *   already due then, so that it sees what they send, whether the bus was idle or came out of its intermission.
 * - Two ports that offer the same arbitration field at once: the port attached first sends, then the other. On a
 *   real bus they would collide in the control or data field, or, bit for bit the same, pass as one frame; a rig
 *   that needs this is wrong, and both frames are seen here.
 * - A frame whose port is closed while it is on the wire still arrives; those that waited are dropped.
 * - A disturbance hits the middle of a frame.
 * - A run of errors of one kind is reported once, until a frame goes well; each new state is reported.
 *
 * Times are nominal: in real time too a frame lasts exactly as long as its bits, however late the task ran.
 */
import type { Scheduler } from '../clock.js'
import { type Disturb, Line } from './line.js'
import { MockPort, type MockPortOptions } from './mock-port.js'

export type { MockPort, MockPortOptions } from './mock-port.js'

export class MockBus {
  readonly name: string
  readonly #scheduler: Scheduler
  readonly #line: Line
  #attached = 0

  /** @param options.bitrate bit/s */
  constructor(scheduler: Scheduler, options: { readonly name: string; readonly bitrate: number }) {
    this.#scheduler = scheduler
    this.name = options.name
    this.#line = new Line(scheduler, 1e9 / options.bitrate)
  }

  attach(name: string, options: MockPortOptions = {}): MockPort {
    return new MockPort(name, this.#attached++, this.#scheduler, this.#line, options)
  }

  /** From now on frames are disturbed as `how` says of each; null: none is. Only frames on this bus, not of ports cut off. */
  disturb(how: Disturb | null): void {
    this.#line.disturb(how)
  }
}
