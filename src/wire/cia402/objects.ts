/**
 * Object dictionary entries (CiA 301, CiA 402 / IEC 61800-7-201) that the set-up uses, and the fixed PDO layout
 * that Drystroke asks of every drive.
 *
 * Set-points: RPDO1 = 607Ah. Controlword: RPDO2 = 6040h, event-driven. Feedback: TPDO1 = 6041h, 6064h, 6077h.
 */

export interface ObjectEntry {
  readonly index: number
  readonly sub: number
  readonly bytes: 1 | 2 | 4
  readonly signed: boolean
}

const entry = (index: number, sub: number, bytes: 1 | 2 | 4, signed = false): ObjectEntry => ({
  index,
  sub,
  bytes,
  signed,
})

export const OBJECT = {
  deviceType: entry(0x1000, 0, 4),
  /** Manufacturer software version: text, of any length. */
  firmware: entry(0x100a, 0, 4),
  consumerHeartbeat: entry(0x1016, 1, 4),
  producerHeartbeat: entry(0x1017, 0, 2),
  /** What the node does to itself on loss of communication: 0 = to pre-operational. */
  errorBehaviour: entry(0x1029, 1, 1),
  /** What the drive does on loss of communication: 3 = quick stop. */
  abortConnection: entry(0x6007, 0, 2, true),
  controlword: entry(0x6040, 0, 2),
  statusword: entry(0x6041, 0, 2),
  quickStopOption: entry(0x605a, 0, 2, true),
  faultReactionOption: entry(0x605e, 0, 2, true),
  mode: entry(0x6060, 0, 1, true),
  modeDisplay: entry(0x6061, 0, 1, true),
  actualPosition: entry(0x6064, 0, 4, true),
  followingWindow: entry(0x6065, 0, 4),
  followingTimeout: entry(0x6066, 0, 2),
  maxTorque: entry(0x6072, 0, 2),
  ratedTorque: entry(0x6076, 0, 4),
  actualTorque: entry(0x6077, 0, 2, true),
  targetPosition: entry(0x607a, 0, 4, true),
  quickStopDeceleration: entry(0x6085, 0, 4),
  /** Interpolation period = value x 10^exponent s. */
  periodValue: entry(0x60c2, 1, 1),
  periodExponent: entry(0x60c2, 2, 1, true),
} as const

/** Identity object (CiA 301): vendor, product code, revision, serial number. */
export const IDENTITY = [1, 2, 3, 4].map((sub) => entry(0x1018, sub, 4))

/** Parameters of the n-th (1-based) receive or transmit PDO: communication record and mapping record. */
export const pdoObjects = (direction: 'receive' | 'transmit', n: number) => {
  const communication = (direction === 'receive' ? 0x1400 : 0x1800) + n - 1
  const mapping = communication + 0x200
  return {
    cobId: entry(communication, 1, 4),
    type: entry(communication, 2, 1),
    count: entry(mapping, 0, 1),
    map: (i: number) => entry(mapping, i, 4),
  }
}

/** The 32-bit word that maps an object into a PDO: index, sub, length in bits. */
export const mappingWord = (o: ObjectEntry): number => ((o.index << 16) | (o.sub << 8) | (o.bytes * 8)) >>> 0

/** Bit 31 of a PDO's COB-ID: the PDO does not exist. */
export const PDO_INVALID = 0x80000000

/** Transmission types: acts on (or is sent at) every SYNC; acts at once. */
export const EVERY_SYNC = 1
export const AT_ONCE = 255

/** Mode of operation 8: cyclic synchronous position. */
export const MODE_CSP = 8

/** Default COB-IDs of the predefined connection set (CiA 301). */
export const COB = {
  nmt: 0x000,
  sync: 0x080,
  emergency: 0x080,
  feedback: 0x180,
  setpoint: 0x200,
  /** TPDO2: what the drive reports of itself. */
  reports: 0x280,
  controlword: 0x300,
  sdoReply: 0x580,
  sdoRequest: 0x600,
  heartbeat: 0x700,
} as const
