/**
 * The way of messages to a driver under test and back, whatever carries them: one JSON text a message. What they mean is
 * not its matter.
 */

/** What a way tells; nothing is told after `close`. */
export interface WayListener {
  readonly onMessage: (text: string) => void
  /** The driver said something for people: a line of its standard error. */
  readonly onSaid: (line: string) => void
  /** It came back after it was lost; `says` in words without a full stop. */
  readonly onBack: (says: string) => void
  readonly onLost: (trouble: WayTrouble, says: string) => void
}

/** lost: nobody is there any more. flood: more came than is read. rubbish: bytes that are no message. stalled: it takes nothing. */
export type WayTrouble = 'lost' | 'flood' | 'rubbish' | 'stalled'

export interface Way {
  /** As messages name the driver: `node own.mjs`, `127.0.0.1:7010`. */
  readonly place: string
  /** Of the process that we started; null: it is none of ours. */
  readonly pid: number | null
  readonly open: boolean
  /** Hands a message over and never waits. When it cannot be, that is told as a loss. */
  send(text: string): void
  /** Reads no more: what comes is left where it is. */
  deafen(): void
  /** Says good-bye and lets go; a process that does not end by itself is ended. Never rejects. */
  close(last: readonly string[]): Promise<void>
  /** At once and without a word, for a process that is itself about to end. */
  abandon(): void
}

/** Bytes that may wait to be taken by the driver: it reads nothing then (half a minute of commands at 200 Hz). */
export const MOST_WAITING = 512 * 1024
/** Bytes of one message: a thousand joints would fit. */
export const LONGEST_MESSAGE = 64 * 1024
