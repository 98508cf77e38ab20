/** A bus that stands between somebody and another bus: passes everything on but what a test does otherwise. */
import type { Bus } from '../../src/bus/contract.js'

export function between(port: Bus, otherwise: Partial<Bus>): Bus {
  const passed: Bus = {
    name: port.name,
    get waiting() {
      return port.waiting
    },
    get state() {
      return port.state
    },
    withdraw: () => port.withdraw(),
    send: (frame) => port.send(frame),
    onFrame: (listener) => port.onFrame(listener),
    only: (filters) => port.only(filters),
    onReport: (listener) => port.onReport(listener),
    close: () => port.close(),
  }
  // Object.assign would read a getter once; this keeps it one.
  return Object.defineProperties(passed, Object.getOwnPropertyDescriptors(otherwise))
}
