/**
 * Worst-case response times: the revised recurrence of Davis, Burns, Bril, Lukkien, "Controller Area Network (CAN)
 * schedulability analysis: refuted, revisited and revised", Real-Time Systems 35:239-272 (2007).
 */
import { describe, expect, it } from 'vitest'
import { worstBits } from '../../src/wire/bits.js'
import { responseTimes, type TimedMessage, utilisation } from '../../src/wire/response-time.js'

const MS = 1e6
const ms = (t: number): number => t / MS

describe('the counter-example of the paper (inputs from memory, outputs recomputed for the project)', () => {
  const BITRATE = 125_000
  const bits = worstBits(7, false)
  const messages: TimedMessage[] = [
    { name: 'A', bits, period: 2.5 * MS, deadline: 2.5 * MS },
    { name: 'B', bits, period: 3.5 * MS, deadline: 3.25 * MS },
    { name: 'C', bits, period: 3.5 * MS, deadline: 3.25 * MS },
  ]
  const found = responseTimes(messages, BITRATE)

  it('every message takes 1 ms', () => expect((bits / BITRATE) * 1000).toBe(1))

  it.each([
    ['A', 1, 2, [2], 2, true],
    ['B', 1, 5, [3, 1.5], 3, true],
    ['C', 0, 7, [3, 3.5], 3.5, false],
  ] as const)(
    '%s: blocking %d, busy period %d, R(q) %j, R %d, meets its deadline: %s',
    (name, B, busy, R, worst, meets) => {
      const row = found.find((r) => r.name === name)!
      expect(ms(row.blocking)).toBe(B)
      expect(ms(row.busy)).toBe(busy)
      expect(row.instances.map(ms)).toEqual(R)
      expect(ms(row.worst)).toBe(worst)
      expect(row.meetsDeadline).toBe(meets)
    },
  )
})

// Source: a public teaching page on CAN response times; recomputed for the project.
describe('five messages at 500 kbit/s', () => {
  const message = (name: string, bytes: number, period: number): TimedMessage => ({
    name,
    bits: worstBits(bytes, false),
    period: period * MS,
  })
  const messages = [
    message('A', 2, 10),
    message('B', 8, 5),
    message('C', 8, 5),
    message('D', 8, 20),
    message('E', 8, 100),
  ]

  it('R = 0.42, 0.69, 0.96, 1.23, 1.23 ms', () => {
    const found = responseTimes(messages, 500_000)
    expect(found.map((r) => ms(r.worst))).toEqual([0.42, 0.69, 0.96, 1.23, 1.23])
    expect(found.every((r) => r.meetsDeadline)).toBe(true)
  })

  it('utilisation 13.9 %', () => expect(100 * utilisation(messages, 500_000)).toBeCloseTo(13.9, 1))
})

// Source: check values of the project, computed with the paper's recurrence.
describe('twelve 8-byte messages every 5 ms at 1 Mbit/s', () => {
  const messages = Array.from({ length: 12 }, (_, i) => ({
    name: `${i + 1}`,
    bits: worstBits(8, false),
    period: 5 * MS,
  }))
  const found = responseTimes(messages, 1_000_000)

  it('U = 32.4 %, R1 = 0.270 ms, R11 = R12 = 1.62 ms', () => {
    expect(100 * utilisation(messages, 1_000_000)).toBeCloseTo(32.4, 10)
    expect([0, 10, 11].map((i) => ms(found[i]!.worst))).toEqual([0.27, 1.62, 1.62])
  })
})

describe('beyond the tables', () => {
  const two: TimedMessage[] = [
    { name: 'A', bits: 100, period: 200_000 },
    { name: 'B', bits: 100, period: 200_000 },
  ]

  it('says Infinity where the bus is overloaded, and only from there down', () => {
    const found = responseTimes(two, 1_000_000)
    expect(found.map((r) => r.worst)).toEqual([200_000, Infinity])
    expect(found.map((r) => r.meetsDeadline)).toEqual([true, false])
  })

  it("adds a message's own jitter to its response, and a stronger one's to the interference", () => {
    const calm: TimedMessage[] = [
      { name: 'A', bits: 100, period: 1 * MS },
      { name: 'B', bits: 100, period: 1 * MS },
    ]
    const [a, b] = responseTimes([{ ...calm[0]!, jitter: 0.95 * MS }, calm[1]!], 1_000_000)
    expect(responseTimes(calm, 1_000_000).map((r) => ms(r.worst))).toEqual([0.2, 0.2])
    expect(ms(a!.worst)).toBeCloseTo(0.95 + 0.2, 12)
    // Two instances of A can come back to back before B.
    expect(ms(b!.worst)).toBeCloseTo(0.3, 12)
    expect(ms(b!.busy)).toBeCloseTo(0.3, 12)
  })

  it('looks at the instances that jitter brings into a busy period, by the equations of the paper', () => {
    // B = 0.1, t = B + ceil((t + 0.25) / 0.3) 0.1 = 0.3; Q = ceil((0.3 + 0.25) / 0.3) = 2; w(0) = 0.1, w(1) = 0.2.
    const [a] = responseTimes(
      [
        { name: 'A', bits: 100, period: 0.3 * MS, jitter: 0.25 * MS },
        { name: 'B', bits: 100, period: 10 * MS },
      ],
      1_000_000,
    )
    expect(ms(a!.busy)).toBeCloseTo(0.3, 12)
    expect(a!.instances.map((r) => Number(ms(r).toFixed(9)))).toEqual([0.45, 0.25])
  })

  it('counts a message that another one releases from the event of that one', () => {
    const [a, b] = responseTimes(
      [
        { name: 'A', bits: 100, period: 1 * MS },
        { name: 'B', bits: 100, period: 1 * MS, after: 'A' },
      ],
      1_000_000,
    )
    // A waits for B of the cycle before; B is released when A is there, and at worst A of the next cycle goes first.
    expect(ms(a!.worst)).toBeCloseTo(0.2, 12)
    expect(ms(b!.worst)).toBeCloseTo(0.2 + 0.1 + 0.1, 12)
  })
})

describe('a host that queues first in, first out (rule: all its frames share the worst bound of the group)', () => {
  // At 1 Mbit/s a bit is a microsecond. A and D are the host's.
  const message = (name: string, bits: number, queue?: string): TimedMessage => ({
    name,
    bits,
    period: 10 * MS,
    ...(queue ? { queue } : {}),
  })
  const A = message('A', 60, 'host')
  const B = message('B', 130)
  const C = message('C', 130)
  const D = message('D', 90, 'host')
  const E = message('E', 110)

  it('the group waits for one weaker frame, all between, and each other; the others for it', () => {
    const found = responseTimes([A, B, C, D, E], 1_000_000)
    const us = found.map((r) => r.worst / 1000)
    // E has begun; then B, C, and A behind D or D behind A.
    expect(us[0]).toBe(110 + 130 + 130 + 60 + 90)
    expect(us[3]).toBe(us[0])
    // The longest weaker frame, A, itself; C for B as well.
    expect(us[1]).toBe(130 + 60 + 130)
    expect(us[2]).toBe(110 + 60 + 130 + 130)
    expect(us[4]).toBe(60 + 130 + 130 + 90 + 110)
  })

  it('is blocked by what is weaker than the weakest of its queue alone: all between goes first', () => {
    const found = responseTimes([A, B, C, D, E], 1_000_000)
    // Below D there is E alone; of the nodes of their own B is blocked by whatever is weaker than B.
    expect(found.map((r) => r.blocking / 1000)).toEqual([110, 130, 110, 110, 0])
    // Until E, which has begun, and B, C, D and A have all gone once.
    expect(found[0]!.busy / 1000).toBe(110 + 60 + 90 + 130 + 130)
  })

  it('a late frame may find all in front of it that came in the meantime', () => {
    const [late, , , weak] = responseTimes([{ ...A, jitter: 0.5 * MS }, B, C, D, E], 1_000_000)
    // Half a millisecond until it waits, and then as above.
    expect(late!.worst / 1000).toBe(500 + 110 + 130 + 130 + 60 + 90)
    expect(weak!.worst).toBe(late!.worst)
  })

  it('behind a weaker frame of its queue, whoever opens a cycle waits for all that goes before that one', () => {
    const F = message('F', 50, 'host')
    const [first, , , weak, , last] = responseTimes([{ ...A, behind: ['D'] }, B, C, D, E, F], 1_000_000)
    // E has begun; D is in front, so B and C go before it; then A. F, weaker still, is of no account.
    expect(first!.worst / 1000).toBe(110 + 130 + 130 + 90 + 60)
    // The others of the queue wait for all of it, and for nothing weaker: there is none.
    expect(last!.worst / 1000).toBe(60 + 130 + 130 + 90 + 110 + 50)
    expect(weak!.worst).toBe(last!.worst)
  })

  it('whoever opens a cycle does not wait for the rest of it, while the queue is empty by then', () => {
    const opens = { ...A, behind: [] }
    const [first] = responseTimes([opens, B, C, D, E], 1_000_000)
    expect(first!.worst / 1000).toBe(130 + 60)
    const tight = [opens, B, C, D, E].map((m) => ({ ...m, period: 0.515 * MS }))
    const [crowded, , , last] = responseTimes(tight, 1_000_000)
    expect(last!.worst).toBeGreaterThan(0.515 * MS)
    expect(crowded!.worst).toBe(last!.worst)
  })

  it('a full bus has no bound, and says so for all of the queue', () => {
    const found = responseTimes(
      [A, B, C, D, E].map((m) => ({ ...m, period: 0.4 * MS })),
      1_000_000,
    )
    expect(found.map((r) => r.worst)).toEqual([Infinity, Infinity, Infinity, Infinity, Infinity])
    expect(found[0]!.meetsDeadline).toBe(false)
  })
})
