/**
 * The drive's own watch over its link to the host, as a fold: it is told what arrives and answers what has
 * ceased.
 *
 * - heartbeat: the consumer heartbeat (1016h) is monitored from the first one on, in every state of the drive
 * (CiA 301);
 * - SYNC: missing for more than 5 interpolation periods (60C2h) while operation is enabled;
 * - setpoints: 5 SYNCs without a new setpoint PDO while operation is enabled.
 *
 * What follows is 6007h's (quick stop, fault, disable voltage, nothing) for all three, and 1029h's for the
 * heartbeat.
 *
 * Not modelled: guarding, a watch over single PDOs' event timers, recovery without a new enable.
 */
import type { Nanos } from '../clock.js'

export type Loss = 'heartbeat' | 'SYNC' | 'setpoints'

/** Emergency code of each: CiA 301 for 8130h and 8250h, CiA 402 for 8700h (the last two from memory). */
export const LOSS_CODE: Record<Loss, number> = { heartbeat: 0x8130, SYNC: 0x8700, setpoints: 0x8250 }

/** How many periods or SYNCs are waited for. */
const PATIENCE = 5

export class LinkWatchdog {
  #consumerTime: Nanos = 0
  #heartbeatDue = Number.POSITIVE_INFINITY
  #period: Nanos = 0
  #syncDue = Number.POSITIVE_INFINITY
  #starved = 0
  #enabled = false

  /** 1016h was written: time (ns) after which silence counts; 0 = not watched. */
  consume(time: Nanos): void {
    this.#consumerTime = time
    this.#heartbeatDue = Number.POSITIVE_INFINITY
  }

  heartbeat(t: Nanos): void {
    if (this.#consumerTime > 0) this.#heartbeatDue = t + this.#consumerTime
  }

  /** Operation was enabled; @param period ns, 60C2h */
  enabled(t: Nanos, period: Nanos): void {
    this.#enabled = true
    this.#period = period
    this.#syncDue = t + PATIENCE * period
    this.#starved = 0
  }

  /** Operation is no longer enabled: only the heartbeat is watched. */
  left(): void {
    this.#enabled = false
    this.#syncDue = Number.POSITIVE_INFINITY
  }

  /** @param fresh a setpoint PDO has come since the SYNC before */
  sync(t: Nanos, fresh: boolean): Loss | undefined {
    if (!this.#enabled) return undefined
    this.#syncDue = t + PATIENCE * this.#period
    this.#starved = fresh ? 0 : this.#starved + 1
    return this.#starved === PATIENCE ? 'setpoints' : undefined
  }

  /** When `expire` is to be asked next; Infinity: nothing is waited for. */
  get due(): Nanos {
    return Math.min(this.#heartbeatDue, this.#syncDue)
  }

  /** What has been silent for too long at `t`; each loss is answered once. */
  expire(t: Nanos): Loss | undefined {
    if (t >= this.#heartbeatDue) {
      this.#heartbeatDue = Number.POSITIVE_INFINITY
      return 'heartbeat'
    }
    if (t >= this.#syncDue) {
      this.#syncDue = Number.POSITIVE_INFINITY
      return 'SYNC'
    }
    return undefined
  }
}
