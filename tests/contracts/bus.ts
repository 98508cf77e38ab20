/** The contract of src/bus/contract.ts as tests: every adapter runs them, with a way to make two ends of one bus. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import type { Bus, BusReport } from '../../src/bus/contract.js'
import type { BusState } from '../../src/files/event.js'
import { type Frame, frame } from '../../src/wire/frame.js'

/** Two ends of one bus, and what the tests must know of the adapter. */
export interface BusPair {
  readonly near: Bus
  readonly far: Bus
  /** How many frames `near` takes at once without settling: one more is refused. */
  readonly queue: number
  /** Ends when all frames handed over so far have arrived. */
  settle(): Promise<void> | void
  /** Frees whatever the factory took. */
  end?(): Promise<void> | void
}

/** What can be done to the near end; an adapter leaves out what cannot happen to it. */
export interface TroubledPair extends BusPair {
  /** The near end's interface goes down and, with `mend`, up again. Both end when the adapter has had the time to notice. */
  cut?(): Promise<void> | void
  mend?(): Promise<void> | void
  /** The near end's adapter vanishes: unplugged, deleted, its peer hung up. Ends when the adapter has had the time to notice. */
  vanish?(): Promise<void> | void
}

const numbered = (n: number, id = 0x123): Frame => frame(id, Uint8Array.of(n & 0xff, n >> 8))

export function describeBus(name: string, factory: () => Promise<BusPair> | BusPair): void {
  describe(`bus contract: ${name}`, () => {
    let pair: BusPair
    let near: Bus
    let far: Bus
    let seen: { frame: Frame; t: number }[]

    beforeEach(async () => {
      pair = await factory()
      near = pair.near
      far = pair.far
      seen = []
      far.onFrame((f, t) => seen.push({ frame: f, t }))
    })

    afterEach(async () => {
      await pair.end?.()
    })

    it('brings every kind of frame over unchanged', async () => {
      const kinds: Frame[] = [
        frame(0x000, Uint8Array.of()),
        frame(0x7ff, Uint8Array.of(1, 2, 3, 4, 5, 6, 7, 8)),
        { id: 0x000, extended: true, remote: false, data: Uint8Array.of(0xff) },
        { id: 0x1fffffff, extended: true, remote: false, data: Uint8Array.of() },
        { id: 0x123, extended: false, remote: true, data: new Uint8Array(0) },
      ]
      for (const f of kinds) {
        expect(near.send(f)).toBe('sent')
        await pair.settle()
      }
      expect(seen.map((s) => s.frame)).toEqual(kinds)
    })

    it('keeps the order of handing over, even against the order of identifiers', async () => {
      const order = [0x700, 0x100, 0x400, 0x100, 0x000].map((id, n) => numbered(n, id))
      for (const f of order) expect(near.send(f)).toBe('sent')
      await pair.settle()
      expect(seen.map((s) => s.frame)).toEqual(order)
    })

    it('does not receive its own frames back', async () => {
      const own: Frame[] = []
      near.onFrame((f) => own.push(f))
      near.send(numbered(1))
      await pair.settle()
      far.send(numbered(2))
      await pair.settle()
      expect(own).toEqual([numbered(2)])
      expect(seen.map((s) => s.frame)).toEqual([numbered(1)])
    })

    it('refuses more than 8 bytes and identifiers out of range, and sends nothing of them later', async () => {
      expect(near.send(frame(0x123, new Uint8Array(9)))).toBe('too long')
      for (const id of [0x800, -1, 1.5, Number.NaN]) {
        expect(near.send(frame(id, new Uint8Array(0))), `standard ${id}`).toBe('bad identifier')
      }
      for (const id of [0x20000000, 0x80000000, -1]) {
        const wrong: Frame = { id, extended: true, remote: false, data: new Uint8Array(0) }
        expect(near.send(wrong), `extended ${id}`).toBe('bad identifier')
      }
      expect(near.waiting).toBe(0)
      near.send(numbered(1))
      await pair.settle()
      expect(seen.map((s) => s.frame)).toEqual([numbered(1)])
    })

    it('calls several listeners in the order of adding', async () => {
      const calls: string[] = []
      far.onFrame((f) => calls.push(`second ${f.data[0]}`))
      far.onFrame((f) => calls.push(`third ${f.data[0]}`))
      near.send(numbered(7))
      near.send(numbered(8))
      await pair.settle()
      expect(calls).toEqual(['second 7', 'third 7', 'second 8', 'third 8'])
      expect(seen).toHaveLength(2)
    })

    it('lets through what a filter names, every frame again without one, and none with an empty list', async () => {
      const wide: Frame = { id: 0x1234567, extended: true, remote: false, data: Uint8Array.of(9) }
      const all = [numbered(1, 0x181), numbered(2, 0x182), numbered(3, 0x281), wide]
      const through = async (filters: Parameters<Bus['only']>[0]): Promise<number[]> => {
        seen.length = 0
        far.only(filters)
        for (const f of all) near.send(f)
        await pair.settle()
        return seen.map((s) => s.frame.id)
      }
      expect(await through([{ id: 0x181, mask: 0x7ff, extended: false }])).toEqual([0x181])
      expect(await through([{ id: 0x180, mask: 0x7f0, extended: false }])).toEqual([0x181, 0x182])
      const two = [
        { id: 0x1234567, mask: 0x1fffffff, extended: true },
        { id: 0x281, mask: 0x7ff, extended: false },
      ]
      expect(await through(two)).toEqual([0x281, 0x1234567])
      expect(await through([])).toEqual([])
      expect(await through(null)).toEqual([0x181, 0x182, 0x281, 0x1234567])
    })

    it('is active as long as nothing is wrong', () => {
      expect([near.state, far.state]).toEqual(['active', 'active'])
    })

    it('gives times that never fall, whole nanoseconds, and frames that may be kept', async () => {
      const count = Math.min(pair.queue, 20)
      for (let round = 0; round < 5; round++) {
        for (let n = 0; n < count; n++) expect(near.send(numbered(round * count + n))).toBe('sent')
        await pair.settle()
      }
      expect(seen.map((s) => s.frame)).toEqual(Array.from({ length: 5 * count }, (_, n) => numbered(n)))
      for (const { t } of seen) expect(Number.isSafeInteger(t)).toBe(true)
      const times = seen.map((s) => s.t)
      expect(times).toEqual([...times].sort((a, b) => a - b))
    })

    it('counts what waits, refuses one frame more than the queue holds, and takes frames again later', async () => {
      for (let n = 0; n < pair.queue; n++) expect(near.send(numbered(n))).toBe('sent')
      expect(near.waiting).toBeGreaterThan(0)
      expect(near.waiting).toBeLessThanOrEqual(pair.queue)
      expect(near.send(numbered(9999))).toBe('queue full')
      await pair.settle()
      expect(near.waiting).toBe(0)
      expect(near.send(numbered(pair.queue))).toBe('sent')
      await pair.settle()
      expect(seen.map((s) => s.frame)).toEqual(Array.from({ length: pair.queue + 1 }, (_, n) => numbered(n)))
    })

    it('takes back what it can of what waits, and then a frame gets through: the way is clear for a stop', async () => {
      let handed = 0
      while (near.send(numbered(handed)) === 'sent') handed++
      const waiting = near.waiting
      const taken = near.withdraw()
      expect(taken).toBeGreaterThanOrEqual(0)
      expect(taken).toBeLessThanOrEqual(waiting)
      expect(near.waiting).toBe(waiting - taken)
      expect(near.send(numbered(2000))).toBe('sent')
      await pair.settle()
      const order = [...Array(handed - taken).keys(), 2000]
      expect(seen.map((s) => s.frame)).toEqual(order.map((n) => numbered(n)))
    })

    it('sends and receives nothing after close, and may be closed twice', async () => {
      const own: Frame[] = []
      near.onFrame((f) => own.push(f))
      near.close()
      near.close()
      expect(near.send(numbered(1))).toBe('closed')
      expect(near.waiting).toBe(0)
      far.send(numbered(2))
      await pair.settle()
      expect(own).toEqual([])
      expect(seen).toEqual([])
    })
  })
}

/**
 * What every adapter does when its bus goes down, comes back or vanishes; it never throws.
 * @param losses `gone`: a bus of this kind is never down for a while, it vanishes; the others need every hook of the pair
 */
export function describeBusTrouble(
  name: string,
  factory: () => Promise<TroubledPair> | TroubledPair,
  losses: 'every' | 'gone' = 'every',
): void {
  describe(`bus contract in trouble: ${name}`, () => {
    let pair: TroubledPair
    let near: Bus
    let seen: Frame[]
    let reports: BusReport[]

    beforeEach(async () => {
      pair = await factory()
      near = pair.near
      seen = []
      reports = []
      pair.far.onFrame((f) => seen.push(f))
      near.onReport((r, t) => {
        expect(Number.isSafeInteger(t)).toBe(true)
        reports.push(r)
      })
    })

    afterEach(async () => {
      await pair.end?.()
    })

    /** The state was reported, once, with a sentence, and is the one that `state` gives. */
    function isReported(state: BusState): void {
      expect(near.state).toBe(state)
      expect(reports.at(-1)?.state).toBe(state)
      expect(reports.at(-1)?.says).toMatch(/\S/)
      expect(reports.filter((r) => r.state === state && r.trouble === null)).toHaveLength(1)
    }

    const ifDown = losses === 'every' ? it : () => {}
    ifDown('down: says so, refuses with that reason, and keeps nothing for later', async () => {
      for (let n = 0; n < Math.min(pair.queue, 5); n++) near.send(numbered(n))
      await pair.cut!()
      isReported('down')
      expect(near.send(numbered(100))).toBe('down')
      expect(near.send(numbered(101))).toBe('down')
      expect(near.waiting).toBe(0)
      expect(near.withdraw()).toBe(0)
      await pair.settle()
      expect(seen.map((f) => f.data[0])).not.toContain(100)
    })

    ifDown('back from down: says so, sends nothing by itself, and works again', async () => {
      await pair.cut!()
      near.send(numbered(100))
      await pair.settle()
      seen.length = 0
      await pair.mend!()
      await pair.settle()
      isReported('active')
      expect(seen).toEqual([])
      const own: Frame[] = []
      near.onFrame((f) => own.push(f))
      expect(near.send(numbered(1))).toBe('sent')
      await pair.settle()
      pair.far.send(numbered(2))
      await pair.settle()
      expect([seen, own]).toEqual([[numbered(1)], [numbered(2)]])
    })

    ifDown('down and up again, several times: each is told', async () => {
      const states: BusState[] = []
      for (let n = 0; n < 3; n++) {
        await pair.cut!()
        states.push(near.state)
        await pair.mend!()
        states.push(near.state)
      }
      expect(states).toEqual(['down', 'active', 'down', 'active', 'down', 'active'])
      expect(reports.map((r) => r.state)).toEqual(states)
    })

    it('gone: says so, refuses for good, hears nothing more, and can be closed', async () => {
      const own: Frame[] = []
      near.onFrame((f) => own.push(f))
      await pair.vanish!()
      isReported('gone')
      for (let n = 0; n < 3; n++) expect(near.send(numbered(n))).toBe('no such interface')
      expect(near.waiting).toBe(0)
      expect(near.withdraw()).toBe(0)
      pair.far.send(numbered(9))
      await pair.settle()
      expect([seen, own]).toEqual([[], []])
      near.close()
      near.close()
      expect(near.send(numbered(10))).toBe('closed')
    })

    it('closed: reports nothing more', async () => {
      const act = losses === 'every' ? pair.cut! : pair.vanish!
      near.close()
      await act()
      expect(reports).toEqual([])
    })
  })
}
