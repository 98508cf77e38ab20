/** A real connection whose other end does not behave: it stops reading, floods, or sends rubbish. */
import { afterEach, expect, it } from 'vitest'
import type { BusReport } from '../../../src/bus/contract.js'
import { SlcanBus } from '../../../src/bus/slcan.js'
import { TcpLine } from '../../../src/bus/tcp.js'
import type { Clock } from '../../../src/clock.js'
import { frame } from '../../../src/wire/frame.js'
import { socketPair, until } from '../../setup/lines.js'

const ends: (() => unknown)[] = []
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end()
})

/** Goes on by a millisecond each time it is looked at: what has been handed over counts as gone by the next frame. */
class Ticking implements Clock {
  #t = 0
  now(): number {
    this.#t += 1e6
    return this.#t
  }
}

const settings = { name: 'port-can', bitrate: 1e6, serialRate: Infinity, queue: 32 }

async function onSocket() {
  const { near, far, end } = await socketPair()
  ends.push(end)
  const bus = SlcanBus.takeOver(new TcpLine(near, 'near'), settings, new Ticking())
  ends.push(() => bus.close())
  const reports: BusReport[] = []
  bus.onReport((r) => reports.push(r))
  return { bus, far, reports }
}

it('stops reading: refused when our store is full too, told, and a stop goes right behind what the system has', async () => {
  const { bus, far, reports } = await onSocket()
  far.pause()
  const data = new Uint8Array(8)
  let handed = 0
  const fill = () => {
    let result = bus.send(frame(handed % 0x800, data))
    for (; result === 'sent'; result = bus.send(frame(handed % 0x800, data))) handed++
    expect(result).toBe('queue full')
  }
  fill()
  // The system may make its buffers larger after a while, and take some more: then it is stuck later.
  await until(() => {
    if (reports.length === 0) fill()
    return reports.length > 0
  })
  expect(reports.map((r) => [r.state, r.trouble])).toEqual([['active', 'transmit time-out']])
  fill()
  const waiting = bus.waiting
  const taken = bus.withdraw()
  expect(taken).toBeGreaterThanOrEqual(31)
  expect(bus.waiting).toBe(waiting - taken)
  expect(bus.send(frame(0x181, Uint8Array.of(2, 0)))).toBe('sent')
  let text = ''
  far.on('data', (bytes) => {
    text += bytes.toString('latin1')
  })
  far.resume()
  await until(() => text.endsWith('t18120200\r'))
  const lines = text.split('\r')
  // The carriage return of the take-over, whole frames in order, the stop, and nothing of what was taken back.
  const ids = Array.from({ length: handed - taken }, (_, n) =>
    (n % 0x800).toString(16).toUpperCase().padStart(3, '0'),
  )
  expect(lines).toEqual(['', ...ids.map((id) => `t${id}8${'0'.repeat(16)}`), 't18120200', ''])
})

it('floods: every frame is heard, rubbish between them is told a bounded number of times', async () => {
  const { bus, far, reports } = await onSocket()
  let heard = 0
  bus.onFrame(() => heard++)
  const block = Buffer.from(`${'t1238DEADBEEFDEADBEEF\rrubbish \x00\xff\r'.repeat(2000)}`, 'latin1')
  const blocks = 50
  far.write('\r')
  for (let n = 0; n < blocks; n++)
    if (!far.write(block)) await new Promise((resolve) => far.once('drain', resolve))
  await until(() => heard === blocks * 2000)
  expect(reports.every((r) => r.trouble === 'garbled')).toBe(true)
  expect(reports.length).toBeGreaterThan(0)
  // By the clock, which every report and every piece moves on: at most one in 100 of its milliseconds.
  expect(reports.length).toBeLessThan(blocks * 2000 * 0.02)
  expect(bus.state).toBe('active')
})

it('half closes: gone, as if it had closed', async () => {
  const { bus, far, reports } = await onSocket()
  far.end()
  await until(() => bus.state === 'gone')
  expect(reports.map((r) => r.says)).toEqual(['near: the other side closed the connection'])
  expect(bus.send(frame(1, new Uint8Array(0)))).toBe('no such interface')
})

it('resets while we write: told once, and never a throw', async () => {
  const { bus, far, reports } = await onSocket()
  far.resetAndDestroy()
  await until(() => bus.send(frame(1, new Uint8Array(8))) === 'no such interface' && bus.state === 'gone')
  expect(reports).toHaveLength(1)
  expect(reports[0]!.says).toMatch(/^near: the other side (reset|closed) the connection/)
})
