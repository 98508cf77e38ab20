/**
 * Status flags that an adapter gives when it is asked `F`: two hexadecimal digits, cleared by asking. Bits as in the manual of
 * the protocol's first adapters, from memory; the kernel's driver does not ask.
 */

export interface SlcanStatus {
  readonly state: 'active' | 'warning' | 'passive'
  readonly troubles: readonly ('receive overflow' | 'transmit overflow' | 'arbitration lost' | 'bus error')[]
}

const WARNING = 0x04
const PASSIVE = 0x20
const TROUBLES = [
  [0x01, 'receive overflow'], // receive store full
  [0x02, 'transmit overflow'], // transmit store full
  [0x08, 'receive overflow'], // data overrun in the controller
  [0x40, 'arbitration lost'],
  [0x80, 'bus error'],
] as const

/** @param word an answer without its end; null: these are no status flags */
export function statusOf(word: string): SlcanStatus | null {
  const digits = /^F([0-9A-Fa-f]{2})$/.exec(word)
  if (!digits) return null
  const flags = Number.parseInt(digits[1]!, 16)
  const troubles = TROUBLES.filter(([bit]) => (flags & bit) !== 0).map(([, trouble]) => trouble)
  return {
    state: flags & PASSIVE ? 'passive' : flags & WARNING ? 'warning' : 'active',
    troubles: [...new Set(troubles)],
  }
}
