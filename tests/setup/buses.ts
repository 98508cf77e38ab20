/** Rigs of which only the addresses of the buses matter. */
import { parseBusAddress } from '../../src/files/bus-address.js'
import type { Rig } from '../../src/files/rig.js'

export const rigOnBuses = (...addresses: string[]): Pick<Rig, 'buses'> => ({
  buses: addresses.map((address, index) => ({
    index,
    name: `bus-${index}`,
    address: parseBusAddress(address)!,
    bitrate: 1e6,
    serialRate: 115_200,
    controlword: null,
    reports: null,
    owner: 'harness',
    queue: 32,
  })),
})
