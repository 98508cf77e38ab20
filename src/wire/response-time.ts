/**
 * Worst-case response times of messages on a CAN bus: the revised recurrence of R. I. Davis, A. Burns, R. J. Bril,
 * J. J. Lukkien, "Controller Area Network (CAN) schedulability analysis: refuted, revisited and revised", Real-Time
 * Systems 35:239-272 (2007).
 *
 * It holds when each node offers its highest-priority frame first. A host that queues first in, first out does not:
 * all its frames then share the worst bound of the group.
 */
import { type Nanos, NS_PER_S } from '../clock.js'

export interface TimedMessage {
  readonly name: string
  /** Longest length on the wire, intermission included: `worstBits`, or `frameBits` where the data is known. */
  readonly bits: number
  /** Least time between two releases. */
  readonly period: Nanos
  /** Queuing jitter, default 0. */
  readonly jitter?: Nanos
  /** Counted from the event that releases the message; default: the period. */
  readonly deadline?: Nanos
}

export interface ResponseTime {
  readonly name: string
  /** Longest frame of lower priority, which may just have begun. */
  readonly blocking: Nanos
  /** Length of the level-m busy period. */
  readonly busy: Nanos
  /** Of each instance in the busy period. */
  readonly instances: readonly Nanos[]
  /** Worst of them: release to the end of the frame's intermission. Infinity when the bus is overloaded at this level. */
  readonly worst: Nanos
  readonly meetsDeadline: boolean
}

/** Share of the bus's time that the messages take, 0..1 and above. */
export function utilisation(messages: readonly TimedMessage[], bitrate: number): number {
  return messages.reduce((sum, m) => sum + (m.bits * NS_PER_S) / bitrate / m.period, 0)
}

/**
 * @param messages highest priority first
 * @param bitrate bit/s
 * @returns one for each message, same order
 */
export function responseTimes(messages: readonly TimedMessage[], bitrate: number): ResponseTime[] {
  return messages.map((_, m) => responseTime(messages, m, bitrate))
}

function responseTime(messages: readonly TimedMessage[], m: number, bitrate: number): ResponseTime {
  const bitTime = NS_PER_S / bitrate
  const C = (k: TimedMessage): Nanos => k.bits * bitTime
  const J = (k: TimedMessage): Nanos => k.jitter ?? 0
  const own = messages[m]!
  const higher = messages.slice(0, m)
  const lower = messages.slice(m + 1)
  const deadline = own.deadline ?? own.period
  const B = lower.reduce((most, k) => Math.max(most, C(k)), 0)

  // Below a utilisation of 1 the busy period ends, and with it the recurrences below.
  if (utilisation([...higher, own], bitrate) >= 1) {
    return {
      name: own.name,
      blocking: B,
      busy: Infinity,
      instances: [],
      worst: Infinity,
      meetsDeadline: false,
    }
  }
  // Busy period: t = B + sum over hp(m) and m of ceil((t + J) / T) C.
  const busy = fixedPoint(C(own), (t) =>
    [...higher, own].reduce((sum, k) => sum + Math.ceil((t + J(k)) / k.period) * C(k), B),
  )
  const count = Math.ceil((busy + J(own)) / own.period)
  const instances: Nanos[] = []
  for (let q = 0; q < count; q++) {
    // Queuing delay: w = B + q C + sum over hp(m) of ceil((w + J + one bit) / T) C.
    const w = fixedPoint(B + q * C(own), (w) =>
      higher.reduce((sum, k) => sum + Math.ceil((w + J(k) + bitTime) / k.period) * C(k), B + q * C(own)),
    )
    instances.push(J(own) + w - q * own.period + C(own))
  }
  const worst = Math.max(...instances)
  return { name: own.name, blocking: B, busy, instances, worst, meetsDeadline: worst <= deadline }
}

/** Repeats `next` from `start` until it changes nothing; `next` never falls and is bounded. */
function fixedPoint(start: number, next: (t: number) => number): number {
  let t = start
  for (;;) {
    const u = next(t)
    if (u === t) return t
    t = u
  }
}
