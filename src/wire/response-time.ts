/**
 * Worst-case response times of messages on a CAN bus: the revised recurrence of R. I. Davis, A. Burns, R. J. Bril,
 * J. J. Lukkien, "Controller Area Network (CAN) schedulability analysis: refuted, revisited and revised", Real-Time
 * Systems 35:239-272 (2007).
 *
 * It holds when each node offers its highest-priority frame first. A host that queues first in, first out does not: a frame waits
 * for all that were queued before it, each with the priority that it has. Such a queue is taken as one sender at the
 * priority of its lowest message, and all its messages share the worst bound of any of them; to all others they come as late as that
 * bound says. With one message in each queue this is the recurrence of the paper. The rule is that of R. I. Davis, S. Kollmann, V.
 * Pollex, F. Slomka, "Controller Area Network (CAN) schedulability analysis with FIFO queues", ECRTS 2011 (from memory);
 * several instances of one message in a queue are counted as R. I. Davis, N. Navet, WFCS 2012, do (from memory).
 *
 * A message that the arrival of another releases has that one's response time as jitter (K. Tindell, J. Clark, "Holistic
 * schedulability analysis for distributed hard real-time systems", Microprocessing and Microprogramming 40:117-134, 1994).
 */
import { type Nanos, NS_PER_S } from '../clock.js'
import { DrystrokeError } from '../errors.js'

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
  /** Messages with the same one wait in it together, first in, first out; left out: it waits for nobody of its node. */
  readonly queue?: string
  /**
   * Names of those of its queue that may be in front of it; left out: all. Whoever opens a cycle has nothing in front that belongs
   * to the cycle: what is left of the one before is gone by then. Where its queue's bound is above its period that is not so, and it shares it.
   */
  readonly behind?: readonly string[]
  /** Name of the message whose arrival releases this one; both are then counted from the event that releases that one. */
  readonly after?: string
}

export interface ResponseTime {
  readonly name: string
  /** Longest frame of lower priority, which may just have begun. */
  readonly blocking: Nanos
  /** Length of the level-m busy period. */
  readonly busy: Nanos
  /** Of each instance in the busy period. */
  readonly instances: readonly Nanos[]
  /** Worst of them, in a queue of all its messages: event to the end of the frame's intermission. Infinity: there is no bound. */
  readonly worst: Nanos
  readonly meetsDeadline: boolean
}

/** Share of the bus's time that the messages take, 0..1 and above. */
export function utilisation(messages: readonly TimedMessage[], bitrate: number): number {
  return messages.reduce((sum, m) => sum + (m.bits * NS_PER_S) / bitrate / m.period, 0)
}

/** Rounds in which jitters may grow by each other; what still grows then counts as without bound. */
const MOST_ROUNDS = 1000

/** A message on its way: ns from its event until it is queued, and until nobody of its queue is before it. */
interface Waiting {
  readonly message: TimedMessage
  readonly C: Nanos
  readonly queued: Nanos
  readonly offered: Nanos
}

/**
 * @param messages highest priority first
 * @param bitrate bit/s
 * @returns one for each message, same order
 * @throws DrystrokeError `defect` for an `after` that no message has as its name
 */
export function responseTimes(messages: readonly TimedMessage[], bitrate: number): ResponseTime[] {
  const bit = NS_PER_S / bitrate
  const places = new Map(messages.map((m, i) => [m.name, i]))
  const releasers = messages.map(({ name, after }) => {
    const place = after === undefined ? -1 : places.get(after)
    if (place === undefined)
      throw new DrystrokeError('defect', `message ${name} comes after ${after}, which is not there`)
    return place
  })
  let waiting = messages.map((message): Waiting => {
    const jitter = message.jitter ?? 0
    return { message, C: message.bits * bit, queued: jitter, offered: jitter }
  })
  for (let round = 0; ; round++) {
    const alone = waiting.map((w) => responseTime(waiting, w, bit))
    const found = alone.map((r, m) => shared(r, messages[m]!, alone, messages))
    let settled = true
    waiting = waiting.map((w, m): Waiting => {
      const released = releasers[m]! < 0 ? 0 : found[releasers[m]!]!.worst
      const queued = (w.message.jitter ?? 0) + released
      const offered = w.message.queue === undefined ? queued : Math.max(queued, found[m]!.worst - w.C)
      if (queued === w.queued && offered === w.offered) return w
      settled = false
      return round < MOST_ROUNDS ? { ...w, queued, offered } : { ...w, queued: Infinity, offered: Infinity }
    })
    if (settled) return found
  }
}

/** In a queue the worst of all its messages counts for each. */
function shared(
  own: ResponseTime,
  { queue, behind, deadline, period }: TimedMessage,
  found: readonly ResponseTime[],
  messages: readonly TimedMessage[],
): ResponseTime {
  const mates = found.filter(
    (_, i) => queue !== undefined && messages[i]!.queue === queue && !messages[i]!.behind,
  )
  const bound = Math.max(own.worst, ...mates.map(({ worst }) => worst))
  const worst = behind !== undefined && bound <= period ? own.worst : bound
  return { ...own, worst, meetsDeadline: worst <= (deadline ?? period) }
}

function responseTime(waiting: readonly Waiting[], own: Waiting, bit: Nanos): ResponseTime {
  const { name, queue, behind, period } = own.message
  const isAhead = (w: Waiting): boolean =>
    w === own ||
    (queue !== undefined && w.message.queue === queue && (behind?.includes(w.message.name) ?? true))
  // Whichever of the queue is in front, it is no weaker than the weakest of them.
  const level = waiting.findLastIndex(isAhead)
  const mates = waiting.filter(isAhead)
  const higher = waiting.slice(0, level).filter((w) => !isAhead(w))
  const B = waiting.slice(level + 1).reduce((most, { C }) => Math.max(most, C), 0)

  // Below a utilisation of 1 the busy period ends, and with it the recurrences below.
  const load = [...mates, ...higher].reduce((sum, { C, message }) => sum + C / message.period, 0)
  const bounded = mates.every((w) => w.queued < Infinity) && higher.every((w) => w.offered < Infinity)
  if (load >= 1 || !bounded)
    return { name, blocking: B, busy: Infinity, instances: [], worst: Infinity, meetsDeadline: false }
  // Busy period: t = B + sum over hp(m) and m of ceil((t + J) / T) C.
  const busy = fixedPoint(own.C, (t) =>
    higher.reduce(
      (sum, k) => sum + Math.ceil((t + k.offered) / k.message.period) * k.C,
      mates.reduce((sum, k) => sum + Math.ceil((t + k.queued) / k.message.period) * k.C, B),
    ),
  )
  const count = Math.ceil((busy + own.queued) / period)
  const instances: Nanos[] = []
  for (let q = 0; q < count; q++) {
    const event = q * period - own.queued
    const comes = Math.max(0, event)
    // What is in the queue before it: q of its own, and of the others all that have come by then.
    const before = mates.reduce((sum, k) => {
      const queued = k === own ? q : Math.floor((comes + k.queued) / k.message.period) + 1
      return sum + queued * k.C
    }, B)
    // Queuing delay: w = B + what is before it + sum over hp(m) of ceil((w + J + one bit) / T) C.
    const w = fixedPoint(before, (w) =>
      higher.reduce((sum, k) => sum + Math.ceil((w + k.offered + bit) / k.message.period) * k.C, before),
    )
    instances.push(w + own.C - event)
  }
  return { name, blocking: B, busy, instances, worst: Math.max(...instances), meetsDeadline: false }
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
