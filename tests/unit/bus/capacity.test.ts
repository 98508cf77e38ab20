/** What a serial line carries. Ten bits a character (start, eight, stop); lengths as in wire/slcan.test.ts. Sums by hand. */
import { describe, expect, it } from 'vitest'
import { framesPerSecond, lineCapacities } from '../../../src/bus/capacity.js'
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
