/** The frame by which a stand-in shows that it is on a bus: the last and least urgent identifier there is, and a number. */
import type { Frame } from '../wire/frame.js'

const ID = 0x1fff_ffff

/** @param number whole, of 32 bits */
export function shown(number: number): Frame {
  const data = new Uint8Array(4)
  new DataView(data.buffer).setUint32(0, number, true)
  return { id: ID, extended: true, remote: false, data }
}

export function shows({ id, extended, remote, data }: Frame, number: number): boolean {
  const own = extended && !remote && id === ID && data.length === 4
  return own && new DataView(data.buffer, data.byteOffset).getUint32(0, true) === number
}
