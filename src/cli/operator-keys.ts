/** Keys that stop the arms, while a run in real time has a terminal. */
import { readFileSync } from 'node:fs'
import type { OutsideStop } from '../files/event.js'

/** What a person is told. */
export const KEYS_HINT = 'space or Esc stops'
/** Held, it lets the approach go on; said while the approach lasts. */
export const HOLD_KEY = 'h'.charCodeAt(0)
export const HOLD_HINT = 'hold h to move'

/**
 * Bytes of keys, by name. In raw mode the terminal makes no signals of keys any more: those that people know end programs by
 * stop as well. Esc also begins what arrow and function keys send; a stop too many does no harm.
 */
const KEYS: ReadonlyMap<number, string> = new Map([
  [0x20, 'space'],
  [0x1b, 'Esc'],
  [0x71, 'q'],
  [0x03, 'Ctrl-C'],
  [0x1a, 'Ctrl-Z'],
  [0x1c, 'Ctrl-\\'],
])

/**
 * Takes keys one by one from now on.
 * @param onOther a byte of any other key
 * @returns gives the terminal back as it was; null when there is none to take keys from
 */
export function takeKeys(
  input: NodeJS.ReadStream,
  ask: (stop: OutsideStop) => void,
  onOther: (byte: number) => void = () => {},
): (() => void) | null {
  if (!input.isTTY || inBackground()) return null
  const onData = (bytes: Buffer): void => {
    for (const byte of bytes) {
      const key = KEYS.get(byte)
      if (key !== undefined) ask({ source: 'key', says: `the key ${key} was pressed` })
      else onOther(byte)
    }
  }
  const onLost = (): void => ask({ source: 'terminal', says: 'the terminal is gone' })
  const giveBack = (): void => {
    input.off('data', onData).off('end', onLost).off('close', onLost)
    process.off('exit', giveBack)
    try {
      input.setRawMode(false)
    } catch {
      // It is gone.
    }
    input.pause()
  }
  input.on('data', onData).on('end', onLost).on('close', onLost)
  // Stays for good: the error of a terminal that is gone may come late.
  input.on('error', onLost)
  // However this process ends by itself, a shell finds its terminal as it was.
  process.on('exit', giveBack)
  input.setRawMode(true)
  input.resume()
  return giveBack
}

/** A background job that reads from its terminal is frozen by the system (SIGTTIN). */
function inBackground(): boolean {
  try {
    const stat = readFileSync('/proc/self/stat', 'utf8')
    const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ')
    // Fields 5 and 8 of proc(5): our group of processes, and the one in the foreground.
    return fields[5 - 3] !== fields[8 - 3]
  } catch {
    return false
  }
}
