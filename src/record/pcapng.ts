/**
 * What writer and reader of frames.pcapng share.
 *
 * Blocks and options: IETF draft-ietf-opsawg-pcapng ("PCAP Now Generic Dump File Format"), sections 3 and 4; every block is
 * a multiple of four bytes and ends with its own length. Packets: LINKTYPE_CAN_SOCKETCAN (227) of the same group's
 * registry of link types: identifier with flags in network byte order, length, three zero bytes, data.
 */

export const BLOCK = { section: 0x0a0d0d0a, interface: 1, packet: 6 } as const

/** Byte-order magic of a section, as read in the section's own order. */
export const MAGIC = 0x1a2b3c4d

export const LINK_CAN = 227

/** Option codes: end of options; name, speed and time resolution of an interface; flags of a packet. */
export const OPTION = { end: 0, name: 2, speed: 8, resolution: 9, flags: 2 } as const

/** if_tsresol: times count units of 10^-9 s. */
export const NANOSECONDS = 9

/** epb_flags, bits 0 and 1. */
export const INBOUND = 1
export const OUTBOUND = 2

/** Flags in the identifier's word. */
export const EXTENDED = 0x80000000
export const REMOTE = 0x40000000
export const ID_MASK = 0x1fffffff

/** Type, length, interface, time (two words), captured and original length. */
export const PACKET_HEAD = 28
/** Bytes before the data in a CAN packet. */
export const CAN_HEAD = 8
/** The flags option, the end of options, and the block's length once more. */
export const PACKET_TAIL = 16

export const TWO_32 = 4294967296
