/** Buses of a rig moved elsewhere for one run: the text of the rig file with other addresses in it. */
import { parseDocument } from 'yaml'
import { DrystrokeError } from '../errors.js'
import { BUS_ADDRESS_FORMS, parseBusAddress } from './bus-address.js'
import { didYouMean, nearest } from './nearest.js'

/**
 * @param text of a rig file that has been loaded without a complaint
 * @param buses names of its buses, in order
 * @param given each `NAME=ADDRESS`; or `ADDRESS` alone: `mock` for every bus, any other where the rig has one bus
 * @returns the text with these addresses; comments stay
 * @throws DrystrokeError `usage`
 */
export function withBusAddresses(text: string, buses: readonly string[], given: readonly string[]): string {
  if (given.length === 0) return text
  const document = parseDocument(text)
  for (const one of given) {
    for (const { name, address } of parseOverride(one, buses))
      document.setIn(['buses', buses.indexOf(name), 'address'], address)
  }
  return document.toString({ lineWidth: 0 })
}

function parseOverride(given: string, buses: readonly string[]): { name: string; address: string }[] {
  const [, name, address] = /^([^=]*)=(.*)$/.exec(given) ?? [undefined, undefined, given]
  const refuse = (says: string): DrystrokeError => new DrystrokeError('usage', `--bus ${given}: ${says}`)
  if (parseBusAddress(address!) === null)
    throw refuse(`expected NAME=ADDRESS with an ADDRESS of the form ${BUS_ADDRESS_FORMS}`)
  if (name === undefined) {
    if (address === 'mock' || buses.length === 1) return buses.map((b) => ({ name: b, address: address! }))
    throw refuse(`this rig has ${buses.length} buses; say which, such as --bus ${buses[0]}=${address}`)
  }
  if (buses.includes(name)) return [{ name, address: address! }]
  const advice = didYouMean(nearest(name, buses))
  throw refuse(`the rig has no bus ${name}; expected ${buses.join(' or ')}${advice && `; ${advice}`}`)
}
