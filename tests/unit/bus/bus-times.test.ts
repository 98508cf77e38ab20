/** Which messages a rig's buses carry and how late each is at worst. Sums by hand; the recurrence itself: tests/outside/response-time*. */
import { describe, expect, it } from 'vitest'
import { busTimes } from '../../../src/bus/bus-times.js'
import { messagesOf } from '../../../src/bus/messages.js'
import { parseBusAddress } from '../../../src/files/bus-address.js'
import { loadRig } from '../../../src/files/load.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { change, DEMO_RIG, FRAMES_RIG } from '../../setup/runs.js'

const rigOf = (text: string) => loadRig(text, 'rig.yaml', watchSchemas)
// Bits of 0, 1, 2, 4 and 8 bytes, intermission included (Davis et al. 2007); a bit is a microsecond at 1 Mbit/s.
const [B0, B1, B2, B4, B8] = [55, 65, 75, 95, 135]

describe('the demo rig: six CiA 402 joints on a bus, 200 Hz', () => {
  const rig = rigOf(DEMO_RIG)
  const [port] = busTimes(rig)
  const us = (use: string, from = 'host'): number[] =>
    port!.messages.filter((m) => m.use === use && m.from === from).map((m) => Math.round(m.worst * 1e6))

  it('has these messages, the strongest first', () => {
    const all = messagesOf(rig, 0)
    expect(all.map(({ id }) => id)).toEqual(all.map(({ id }) => id).sort((a, b) => a - b))
    const count = (use: string): number => all.filter((m) => m.use === use).length
    expect(['SYNC', 'controlword', 'setpoint', 'feedback', 'emergency', 'heartbeat'].map(count)).toEqual([
      1, 1, 6, 6, 6, 7,
    ])
    expect(all.find((m) => m.joint === 'port.elbow' && m.use === 'setpoint')).toMatchObject({
      id: 0x20d,
      bytes: 4,
      period: 0.005,
      from: 'host',
    })
  })

  it('SYNC waits for one frame on the bus, all emergencies, and a controlword in front of it', () => {
    expect(us('SYNC')).toEqual([B8 + 6 * B8 + B2 + B0])
  })

  it('the host is as late as its heartbeat, the weakest of all: everything once', () => {
    const everything = B0 + B2 + 6 * B4 + B1 + 6 * B8 + 6 * B8 + 6 * B1
    for (const use of ['setpoint', 'controlword', 'heartbeat'])
      expect(new Set(us(use))).toEqual(new Set([everything]))
  })

  it('feedback is counted from the tick: the SYNC that asks for it, then the stronger frames', () => {
    const sync = B8 + 6 * B8 + B2 + B0
    // The last of the six: a weaker frame, SYNC and controlword, emergencies, the other feedback, itself.
    expect(us('feedback', 'arms').at(-1)).toBe(sync + B8 - (B8 - B4) + B0 + B2 + 6 * B8 + 6 * B8)
  })

  it('a shared controlword or one for each drive', () => {
    const own = change(change(DEMO_RIG, /controlword: "0x181".*\n/, '\n'), /controlword: "0x181".*\n/, '\n')
    const words = messagesOf(rigOf(own), 0).filter((m) => m.use === 'controlword')
    expect(words.map(({ id }) => id)).toEqual([0x30b, 0x30c, 0x30d, 0x30e, 0x30f, 0x310])
  })

  it('at a tenth of the bit rate nothing is bounded but what goes first', () => {
    const slow = rigOf(change(DEMO_RIG, 'bitrate: "1 Mbit/s"', 'bitrate: "100 kbit/s"'))
    const [port, starboard] = busTimes(slow)
    expect(port!.load).toBeCloseTo(10 * starboard!.load, 12)
    expect(port!.messages.filter((m) => m.use === 'setpoint').every((m) => m.worst === Infinity)).toBe(true)
    expect(starboard!.messages.every((m) => m.worst < m.deadline)).toBe(true)
  })

  it('a serial line comes on top: out before the bus, in after it', () => {
    const buses = rig.buses.map((bus) => ({
      ...bus,
      address: parseBusAddress('slcan:/dev/ttyUSB0')!,
      serialRate: 1e6,
    }))
    const [behind] = busTimes({ ...rig, buses })
    const late = (all: typeof port, use: string): number =>
      Math.max(...all!.messages.filter((m) => m.use === use).map((m) => m.worst))
    // Characters: 6 for SYNC, 10 a controlword, 14 a setpoint, 8 a heartbeat; ten bits each.
    const out = 10e-6 * (6 + 10 + 6 * 14 + 8)
    // 22 for feedback and emergencies, 8 for heartbeats.
    const back = 10e-6 * (6 * 22 + 6 * 22 + 6 * 8)
    expect(late(behind, 'SYNC') - late(port, 'SYNC')).toBeCloseTo(out, 9)
    expect(late(behind, 'emergency') - late(port, 'emergency')).toBeCloseTo(back, 9)
  })
})

describe('arms that speak frames of their own', () => {
  const [port, starboard] = busTimes(rigOf(FRAMES_RIG))

  it('are asked by one frame, and answer it; or send by themselves', () => {
    const count = (bus: typeof port, use: string): number => bus!.messages.filter((m) => m.use === use).length
    expect(['request', 'setpoint', 'stop', 'feedback', 'SYNC'].map((use) => count(port, use))).toEqual([
      1, 6, 1, 6, 0,
    ])
    expect(['request', 'setpoint', 'stop', 'feedback'].map((use) => count(starboard, use))).toEqual([
      0, 6, 6, 6,
    ])
    expect(port!.messages.find((m) => m.use === 'feedback')!.answers).toBe('request')
    expect(starboard!.messages.find((m) => m.use === 'feedback')!.answers).toBeNull()
    for (const { messages } of [port!, starboard!])
      for (const { worst, deadline } of messages) expect(worst).toBeLessThan(deadline)
  })
})
