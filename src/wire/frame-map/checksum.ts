/** Checksums of eight bits that arms put into their frames. */
import type { ChecksumRule } from '../../files/rig.js'

/** @param at byte of the checksum itself, left out */
export function checksum(
  { kind, polynomial, start, final }: ChecksumRule,
  data: Uint8Array,
  at: number,
): number {
  let sum = start
  for (let i = 0; i < data.length; i++) {
    if (i === at) continue
    const byte = data[i]!
    if (kind === 'sum') sum = (sum + byte) & 0xff
    else {
      sum ^= byte
      if (kind === 'crc8')
        for (let k = 0; k < 8; k++) sum = ((sum << 1) ^ (sum & 0x80 ? polynomial : 0)) & 0xff
    }
  }
  return sum ^ final
}
