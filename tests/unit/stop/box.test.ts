import { describe, expect, it } from 'vitest'
import { openModemLines } from '../../../src/bus/serial.js'
import type { Contact } from '../../../src/files/event.js'
import { type BoxInput, boxStep, UNREAD } from '../../../src/stop/box.js'
import { BoxReader } from '../../../src/stop/box-reader.js'
import { joinedPtys } from '../../setup/lines.js'
import { needs } from '../../setup/needs.js'

const MS = 1e6
const TIMES = { settle: 50 * MS, patience: 40 * MS }

const closed = (t: number): BoxInput => ({ kind: 'read', closed: true, t: t * MS })
const open = (t: number): BoxInput => ({ kind: 'read', closed: false, t: t * MS })
const time = (t: number): BoxInput => ({ kind: 'time', t: t * MS })
const failed: BoxInput = { kind: 'failed' }
const every = (ms: number, from: number, to: number) =>
  Array.from({ length: Math.floor((to - from) / ms) + 1 }, (_, i) => closed(from + i * ms))

function contacts(...inputs: BoxInput[]): Contact[] {
  let state = UNREAD
  return inputs.map((input) => {
    state = boxStep(state, input, TIMES)
    return state.contact
  })
}

const at = (inputs: BoxInput[]): Contact => contacts(...inputs).at(-1)!

describe('the emergency-stop box, folded', () => {
  it('is closed only once it has been read closed for the settling time', () => {
    expect(at(every(10, 0, 40))).toBe('open')
    expect(at(every(10, 0, 50))).toBe('closed')
  })

  it('opens at once, and a contact that bounces stays open', () => {
    expect(at([...every(10, 0, 100), open(101)])).toBe('open')
    const bounce = [closed(102), open(103), ...every(10, 104, 144)]
    expect(contacts(...every(10, 0, 100), open(101), ...bounce).slice(-7)).not.toContain('closed')
    expect(at([...every(10, 0, 100), open(101), ...bounce, closed(154)])).toBe('closed')
  })

  it('is lost when it cannot be read, and when no reading comes', () => {
    expect(at([...every(10, 0, 100), failed])).toBe('lost')
    expect(at([...every(10, 0, 100), time(140)])).toBe('closed')
    expect(at([...every(10, 0, 100), time(141)])).toBe('lost')
    expect(at([time(0)])).toBe('lost')
  })

  it('begins to settle anew after a failure or a gap', () => {
    expect(at([...every(10, 0, 100), failed, closed(110)])).toBe('open')
    expect(at([...every(10, 0, 100), closed(200)])).toBe('open')
    // An answer that took long is no new one.
    expect(at([...every(10, 0, 100), closed(110), time(151)])).toBe('lost')
  })
})

describe('the reader of the box', () => {
  const settings = { device: '/dev/box', line: 'dsr', settle: 0.05, patience: 0.04 } as const
  const lines = (dsr: boolean) => ({ cts: !dsr, dsr, dcd: !dsr })

  /** Polls every 5 ms; answers come between two polls. */
  async function polled(get: (n: number) => Promise<ReturnType<typeof lines>>, ticks: number) {
    let n = 0
    const told: [Contact, number][] = []
    const reader = new BoxReader({ get: () => get(n) }, settings, (contact, t) =>
      told.push([contact, t / MS]),
    )
    for (; n < ticks; n++) {
      reader.poll(n * 5 * MS)
      await Promise.resolve()
      await Promise.resolve()
    }
    return { told, reader }
  }

  it('reads the line that the rig names, and tells changes only', async () => {
    const { told, reader } = await polled(async (n) => lines(n < 40 || n > 60), 100)
    expect(told).toEqual([
      ['open', 0],
      ['closed', 50],
      ['open', 200],
      ['closed', 355],
    ])
    expect(reader.contact).toBe('closed')
  })

  it('a blocked pool, whose answers never come, is a box that is lost within the patience', async () => {
    const { told } = await polled((n) => (n < 20 ? Promise.resolve(lines(true)) : new Promise(() => {})), 100)
    // Last answered: the question of 95 ms.
    expect(told.slice(2)).toEqual([['lost', 140]])
  })

  it('a port that fails or throws is a box that is lost at once, and is asked again', async () => {
    const bad = (n: number) => n >= 20 && n < 25
    const rejected = await polled(async (n) => {
      if (bad(n)) throw new Error('EIO')
      return lines(true)
    }, 60)
    const thrown = await polled((n) => {
      if (bad(n)) throw new Error('EBADF')
      return Promise.resolve(lines(true))
    }, 60)
    for (const { told } of [rejected, thrown]) {
      expect(told.map(([contact]) => contact)).toEqual(['open', 'closed', 'lost', 'open', 'closed'])
      expect(told[2]![1]).toBe(100)
    }
  })

  // All that can be tried of the real port without hardware: a pseudo-terminal has no modem lines.
  it.skipIf(!needs('socat'))('a real port without modem lines is refused', async () => {
    const ptys = await joinedPtys()
    try {
      await expect(openModemLines(ptys.near)).rejects.toThrow(/no modem lines/)
      await expect(openModemLines('/dev/nowhere-at-all')).rejects.toThrow(/no such device/)
    } finally {
      await ptys.end()
    }
  })
})
