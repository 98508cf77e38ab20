/** A classical CAN data or remote frame (ISO 11898-1). */

export interface Frame {
  /** 11 bits, or 29 when `extended`. */
  readonly id: number
  readonly extended: boolean
  readonly remote: boolean
  /**
   * 0 to 8 bytes. Never written to after the frame is made. Of a remote frame only the length counts: it is the
   * number of bytes asked for (the data length code), none of them travels.
   */
  readonly data: Uint8Array
}

export function frame(id: number, data: Uint8Array): Frame {
  return { id, extended: false, remote: false, data }
}
