/** Where a bus is: in memory, behind an interface of the system, or behind a text line to an adapter. One notation, in rig files and on the command line. */

export type BusAddress =
  /** In the memory of this process, with simulated arms. */
  | { readonly kind: 'mock' }
  /** A CAN interface of the Linux system, such as `can0`. */
  | { readonly kind: 'socketcan'; readonly interface: string }
  /** An adapter that speaks the slcan text protocol on a serial port. */
  | { readonly kind: 'slcan'; readonly device: string }
  /** The same text over TCP. */
  | { readonly kind: 'slcan'; readonly host: string; readonly port: number }

export const BUS_ADDRESS_FORMS =
  'mock, socketcan:INTERFACE, slcan:DEVICE or slcan:tcp:HOST:PORT, such as "socketcan:can0", "slcan:/dev/ttyACM0" or "slcan:tcp:127.0.0.1:7001"'

/** Linux interface names have at most 15 characters. */
const SOCKETCAN = /^socketcan:([A-Za-z0-9._-]{1,15})$/
const TCP = /^slcan:tcp:(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9.-]+):(\d{1,5})$/
const SERIAL = /^slcan:(\/\S+|COM\d+)$/

/** @returns null when the text is no address */
export function parseBusAddress(text: string): BusAddress | null {
  if (text === 'mock') return { kind: 'mock' }
  const can = SOCKETCAN.exec(text)
  if (can) return { kind: 'socketcan', interface: can[1]! }
  const tcp = TCP.exec(text)
  if (tcp) {
    const port = Number(tcp[2])
    const host = tcp[1]!.replace(/^\[|\]$/g, '')
    return port >= 1 && port <= 65535 ? { kind: 'slcan', host, port } : null
  }
  const serial = SERIAL.exec(text)
  return serial ? { kind: 'slcan', device: serial[1]! } : null
}

/** As it is written in a file. */
export function showBusAddress(address: BusAddress): string {
  if (address.kind === 'mock') return 'mock'
  if (address.kind === 'socketcan') return `socketcan:${address.interface}`
  if ('device' in address) return `slcan:${address.device}`
  const host = address.host.includes(':') ? `[${address.host}]` : address.host
  return `slcan:tcp:${host}:${address.port}`
}
