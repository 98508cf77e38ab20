/** What the system says of a CAN interface: the only way to learn why it refused a frame, because the refusal carries no reason. */
import { readFileSync } from 'node:fs'

export type CanLink =
  | 'missing'
  | 'not CAN' // a network interface of another kind
  | 'down'
  | 'up'

/** Of linux/if_arp.h and linux/if.h. */
const ARPHRD_CAN = 280
const IFF_UP = 1
const SHOWN = '/sys/class/net'

/** @param root where the system shows its interfaces; another folder in tests */
export function canLink(name: string, root = SHOWN): CanLink {
  const flags = read(name, 'flags', root)
  if (flags === null) return 'missing'
  if (Number(read(name, 'type', root)) !== ARPHRD_CAN) return 'not CAN'
  return (Number(flags) & IFF_UP) === 0 ? 'down' : 'up'
}

/** False: the interface is up, but its controller is off the bus. Apart, because the kernel may let this question wait. */
export function canCarrier(name: string, root = SHOWN): boolean {
  return read(name, 'carrier', root) !== '0'
}

function read(name: string, file: string, root: string): string | null {
  try {
    return readFileSync(`${root}/${name}/${file}`, 'utf8').trim()
  } catch {
    return null // the carrier of an interface that is down cannot be read
  }
}
