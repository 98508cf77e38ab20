import { describe, expect, it } from 'vitest'
import { parseBusAddress, showBusAddress } from '../../../src/files/bus-address.js'
import { withBusAddresses } from '../../../src/files/bus-override.js'
import { loadRig } from '../../../src/files/load.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { DEMO_RIG } from '../../setup/runs.js'

const BUSES = ['port-can', 'starboard-can']
const addresses = (...given: string[]): string[] =>
  loadRig(withBusAddresses(DEMO_RIG, BUSES, given), 'rig.yaml', watchSchemas).buses.map((b) =>
    showBusAddress(b.address),
  )

describe('bus addresses', () => {
  it.each([
    'mock',
    'socketcan:can0',
    'socketcan:vcan-port.1',
    'slcan:/dev/ttyACM0',
    'slcan:/dev/serial/by-id/adapter',
    'slcan:tcp:127.0.0.1:7001',
    'slcan:tcp:bench-host.local:65535',
    'slcan:tcp:[::1]:7001',
  ])('%s is read and written the same', (text) => {
    expect(showBusAddress(parseBusAddress(text)!)).toBe(text)
  })

  it.each([
    '',
    'Mock',
    'can0',
    'socketcan:',
    'socketcan:a-name-that-is-too-long',
    'socketcan:can 0',
    'slcan:',
    'slcan:ttyACM0',
    'slcan:tcp:127.0.0.1',
    'slcan:tcp:127.0.0.1:0',
    'slcan:tcp:127.0.0.1:65536',
    'slcan:tcp::7001',
  ])('%j is none', (text) => {
    expect(parseBusAddress(text)).toBeNull()
  })
})

describe('--bus', () => {
  it('moves the buses that it names and no other', () => {
    expect(addresses('starboard-can=socketcan:vcan1')).toEqual(['mock', 'socketcan:vcan1'])
    expect(addresses('port-can=slcan:/dev/ttyACM0', 'starboard-can=slcan:tcp:127.0.0.1:7002')).toEqual([
      'slcan:/dev/ttyACM0',
      'slcan:tcp:127.0.0.1:7002',
    ])
    expect(addresses('starboard-can=socketcan:vcan1', 'mock')).toEqual(['mock', 'mock'])
  })

  it('changes no byte when nothing is given, and no comment otherwise', () => {
    expect(withBusAddresses(DEMO_RIG, BUSES, [])).toBe(DEMO_RIG)
    const comments = DEMO_RIG.match(/#.*/g)
    expect(withBusAddresses(DEMO_RIG, BUSES, ['mock']).match(/#.*/g)).toEqual(comments)
  })

  it.each([
    ['port-cam=mock', /no bus port-cam; expected port-can or starboard-can; did you mean "port-can"/],
    ['socketcan:vcan0', /2 buses; say which, such as --bus port-can=socketcan:vcan0/],
    ['port-can=can0', /expected NAME=ADDRESS with an ADDRESS of the form mock, socketcan:INTERFACE/],
  ])('%s is refused', (given, message) => {
    expect(() => withBusAddresses(DEMO_RIG, BUSES, [given])).toThrow(message)
  })
})
