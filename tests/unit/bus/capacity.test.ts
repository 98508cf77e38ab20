/** What a serial line carries. Ten bits a character (start, eight, stop); lengths as in wire/slcan.test.ts. Sums by hand. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { busCapacities, framesPerSecond, lineCapacities } from '../../../src/bus/capacity.js'
import { parseBusAddress } from '../../../src/files/bus-address.js'
import { loadRig } from '../../../src/files/load.js'
import type { Rig } from '../../../src/files/rig.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { DEMO_RIG } from '../../setup/runs.js'

function rigAt(address: string, serialRate: number, controlword: number | null = 0x181): Rig {
  const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
  const buses = rig.buses.map((bus, i) =>
    i === 0 ? { ...bus, address: parseBusAddress(address)!, serialRate, controlword } : bus,
  )
  return { ...rig, buses }
}

describe('a line', () => {
  it.each([
    [115_200, 8, 115_200 / 220], // t 123 8 and sixteen digits, carriage return: 22 characters
    [115_200, 0, 115_200 / 60],
    [1e6, 4, 1e6 / 140],
  ])('of %d bit/s with frames of %d bytes', (rate, data, expected) => {
    expect(framesPerSecond(rate, data)).toBeCloseTo(expected, 6)
  })
})

describe('a rig: six joints on a bus at 200 Hz, heartbeats of 20 ms out and 50 ms in', () => {
  it('asks for setpoints, SYNC, a stop and heartbeats one way, and feedback the other', () => {
    const [line, ...others] = lineCapacities(rigAt('slcan:/dev/ttyUSB0', 1e6))
    expect(others).toEqual([])
    expect(line).toMatchObject({ bus: 'port-can', device: '/dev/ttyUSB0', enough: true })
    // Characters a second: 200 of 6, 1200 of 14, 200 of 10, 50 of 8.
    expect(line!.toArms.framesPerSecond).toBeCloseTo(1650, 6)
    expect(line!.toArms.needed).toBeCloseTo(204_000, 6)
    expect(line!.toArms.wanted).toBeCloseTo(306_000, 6)
    // 1200 of 22, 120 of 8.
    expect(line!.fromArms.framesPerSecond).toBeCloseTo(1320, 6)
    expect(line!.fromArms.needed).toBeCloseTo(273_600, 6)
    expect(line!.fromArms.wanted).toBeCloseTo(410_400, 6)
  })

  it('stops each drive by a frame of its own where none is shared', () => {
    const [line] = lineCapacities(rigAt('slcan:/dev/ttyUSB0', 1e6, null))
    expect(line!.toArms.needed).toBeCloseTo(204_000 + 5 * 200 * 100, 6)
  })

  it.each([
    [115_200, false],
    [410_399, false],
    [410_401, true],
  ])('on a port of %d bit/s: enough %s', (rate, enough) => {
    expect(lineCapacities(rigAt('slcan:/dev/ttyUSB0', rate))[0]!.enough).toBe(enough)
  })

  it.each(['mock', 'socketcan:can0', 'slcan:tcp:127.0.0.1:7001'])('has no such line at %s', (address) => {
    expect(lineCapacities(rigAt(address, 115_200))).toEqual([])
  })
})

describe('the bus itself', () => {
  it('carries both directions, each frame with the most bits that its length can take', () => {
    const [mock] = busCapacities(rigAt('mock', 115_200))
    // Bits of 0, 1, 2, 4 and 8 bytes, intermission included: 55, 65, 75, 95, 135 (Davis et al. 2007).
    const needed = 200 * 55 + 1200 * 95 + 200 * 75 + 50 * 65 + 1200 * 135 + 120 * 65
    expect(mock).toMatchObject({ bus: 'port-can', available: 1e6, line: null })
    expect(mock!.toArms).toBeCloseTo(1650, 6)
    expect(mock!.fromArms).toBeCloseTo(1320, 6)
    expect(mock!.needed).toBeCloseTo(needed, 6)
  })

  it('has a line of its own where it is behind a port', () => {
    const [port, other] = busCapacities(rigAt('slcan:/dev/ttyUSB0', 1e6))
    expect(port!.line!.device).toBe('/dev/ttyUSB0')
    expect(other!.line).toBeNull()
  })
})

describe('arms that speak frames of their own, six on a bus at 200 Hz', () => {
  const text = readFileSync(new URL('../../../rigs/bottle-skiff-frames.yaml', import.meta.url), 'utf8')
  const own = loadRig(text, 'rig.yaml', watchSchemas)
  const buses = own.buses.map((bus) => ({ ...bus, address: parseBusAddress('slcan:/dev/ttyUSB0')! }))
  const [port, starboard] = lineCapacities({ ...own, buses })

  it('a request and a stop to all of one byte, setpoints of six, feedback of seven', () => {
    expect(port!.toArms.framesPerSecond).toBeCloseTo(1600, 6)
    // Characters of 1, 6 and 7 bytes: 8, 18 and 20.
    expect(port!.toArms.needed).toBeCloseTo(10 * (200 * 8 + 1200 * 18 + 200 * 8), 6)
    expect(port!.fromArms.needed).toBeCloseTo(10 * 1200 * 20, 6)
  })

  it('a stop of no byte each, setpoints of four, feedback of eight by itself', () => {
    expect(starboard!.toArms.framesPerSecond).toBeCloseTo(2400, 6)
    expect(starboard!.toArms.needed).toBeCloseTo(10 * (1200 * 14 + 1200 * 6), 6)
    expect(starboard!.fromArms.needed).toBeCloseTo(10 * 1200 * 22, 6)
  })
})
