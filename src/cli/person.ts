/** A person at a terminal who is asked and answers in lines. */
import { createInterface } from 'node:readline'
import type { Ask } from '../ready/prompt.js'

/**
 * @param input a terminal, or lines of answers from a file or a program
 * @returns the next line of each answer; null once the input has ended
 */
export function askOn(input: NodeJS.ReadableStream, out: NodeJS.WritableStream): { ask: Ask; close(): void } {
  const lines = createInterface({ input, crlfDelay: Number.POSITIVE_INFINITY })
  const waiting: string[] = []
  let asked: ((line: string | null) => void) | null = null
  let ended = false
  lines.on('line', (line) => {
    if (asked) {
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
      if (line !== undefined) return Promise.resolve(line)
      if (ended) return Promise.resolve(null)
      return new Promise((resolve) => {
        asked = resolve
      })
    },
    close: () => lines.close(),
  }
}
