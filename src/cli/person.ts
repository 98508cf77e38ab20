/** A person at a terminal who is asked and answers in lines. */
import { createInterface } from 'node:readline'
import type { OutsideStop } from '../files/event.js'
import type { Ask } from '../ready/prompt.js'
import { takeKeys } from './operator-keys.js'

/**
 * @param input a terminal, or lines of answers from a file or a program
 * @returns the next line of each answer; null once the input has ended
 */
export function askOn(input: NodeJS.ReadableStream, out: NodeJS.WritableStream): { ask: Ask; close(): void } {
  const lines = createInterface({ input, crlfDelay: Number.POSITIVE_INFINITY })
  const waiting: string[] = []
  let asked: ((line: string | null) => void) | null = null
  let ended = false
  // A terminal shows what is typed when it is typed; elsewhere, and when it came early, it is shown where it answers.
  const shows = 'isTTY' in input && input.isTTY === true
  const show = (line: string): void => void out.write(`${line}\n`)
  lines.on('line', (line) => {
    if (asked) {
      if (!shows) show(line)
      const answer = asked
      asked = null
      answer(line)
    } else waiting.push(line)
  })
  lines.on('close', () => {
    ended = true
    asked?.(null)
    asked = null
  })
  return {
    ask(question) {
      out.write(question)
      const line = waiting.shift()
      if (line !== undefined) {
        show(line)
        return Promise.resolve(line)
      }
      if (ended) return Promise.resolve(null)
      return new Promise((resolve) => {
        asked = resolve
      })
    },
    close: () => lines.close(),
  }
}

/**
 * A person whose keys are taken one by one, because some of them stop the arms: at any time, in an answer too. None of the
 * answers that are asked for here holds such a key.
 * @returns null: there is no terminal to take keys from
 */
export function askByKeys(
  input: NodeJS.ReadStream,
  out: NodeJS.WritableStream,
  onStop: (stop: OutsideStop) => void,
): { ask: Ask; close(): void } | null {
  let typed = ''
  let asked: ((line: string | null) => void) | null = null
  const answer = (line: string | null): void => {
    const to = asked
    asked = null
    typed = ''
    to?.(line)
  }
  const giveBack = takeKeys(
    input,
    (stop) => {
      onStop(stop)
      if (stop.source === 'terminal') answer(null)
    },
    (byte) => {
      if (asked === null) return
      if (byte === ENTER || byte === NEWLINE) {
        out.write('\r\n')
        answer(typed)
      } else if (byte === BACKSPACE || byte === DELETE) {
        if (typed !== '') out.write('\b \b')
        typed = typed.slice(0, -1)
      } else if (byte > 0x20 && byte < 0x7f) {
        typed += String.fromCharCode(byte)
        out.write(String.fromCharCode(byte))
      }
    },
  )
  if (giveBack === null) return null
  return {
    ask(question) {
      out.write(question)
      return new Promise((resolve) => {
        asked = resolve
      })
    },
    close: giveBack,
  }
}

const ENTER = 0x0d
const NEWLINE = 0x0a
const BACKSPACE = 0x08
const DELETE = 0x7f
