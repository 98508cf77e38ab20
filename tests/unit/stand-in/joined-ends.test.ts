import { expect, it } from 'vitest'
import { MockBus } from '../../../src/bus/mock.js'
import { VirtualTime } from '../../../src/clock.js'
import { JoinedEnds } from '../../../src/stand-in/joined-ends.js'
import { frame } from '../../../src/wire/frame.js'
import { between } from '../../setup/between.js'

/** Two lines, each with the arms' end and somebody at the other end of it. */
function joined() {
  const time = new VirtualTime()
  const lines = ['harness', 'driver'].map((name) => {
    const line = new MockBus(time, { name, bitrate: 1e6 })
    const heard: number[] = []
    const somebody = line.attach(name)
    somebody.onFrame(({ id }) => heard.push(id))
    return { end: line.attach('arms'), somebody, heard }
  })
  const [a, b] = lines as [(typeof lines)[0], (typeof lines)[0]]
  return { time, a, b }
}
const said = (id: number) => frame(id, Uint8Array.of(1))

it('hands what comes in at one end to the arms and to the other end, and to nobody twice', () => {
  const { time, a, b } = joined()
  const bus = new JoinedEnds([a.end, b.end])
  const arms: number[] = []
  bus.onFrame(({ id }) => arms.push(id))
  a.somebody.send(said(0x181))
  b.somebody.send(said(0x20b))
  expect(bus.send(said(0x18b))).toBe('sent')
  time.runUntil(1e9)
  expect(arms.sort()).toEqual([0x181, 0x20b])
  expect(a.heard.sort()).toEqual([0x18b, 0x20b])
  expect(b.heard.sort()).toEqual([0x181, 0x18b])
})

it('is there as long as one end is', () => {
  const { time, a, b } = joined()
  const down = between(a.end, { state: 'down', send: () => 'down' })
  const bus = new JoinedEnds([down, b.end])
  expect(bus.state).toBe('active')
  expect(bus.send(said(0x18b))).toBe('sent')
  expect(bus.waiting).toBe(1)
  time.runUntil(1e9)
  expect(b.heard).toEqual([0x18b])
  const alone = new JoinedEnds([down, between(b.end, { state: 'down', send: () => 'down' })])
  expect(alone.state).toBe('down')
  expect(alone.send(said(0x18b))).toBe('down')
})
