/** The guardian's account in a recording: only there when the guardian ended the run. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { DrystrokeError } from '../errors.js'
import { GUARDIAN_FILE, type GuardianEvent } from '../files/guardian-event.js'

/** @returns empty: there is none. @throws DrystrokeError `recording-invalid` when it cannot be read or is not whole */
export function readGuardianAccount(folder: string): GuardianEvent[] {
  const path = join(folder, GUARDIAN_FILE)
  let text: string
  try {
    text = readFileSync(path, 'utf8')
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'ENOENT') return []
    throw damaged(path, (cause as Error).message, cause)
  }
  const events = text
    .split('\n')
    .filter((line) => line !== '')
    .map((line, i): GuardianEvent => {
      try {
        const event = JSON.parse(line) as GuardianEvent | null
        if (typeof event?.kind === 'string' && typeof event.t === 'number') return event
      } catch (cause) {
        throw damaged(path, `line ${i + 1} is no JSON`, cause)
      }
      throw damaged(path, `line ${i + 1} is no event with a kind and a time`)
    })
  // It gets its name only once it is whole.
  if (events[0]?.kind !== 'takeover' || events.at(-1)?.kind !== 'end')
    throw damaged(path, 'it does not go from "takeover" to "end"')
  return events
}

function damaged(path: string, found: string, cause?: unknown): DrystrokeError {
  return new DrystrokeError(
    'recording-invalid',
    `${path}: the guardian's account is damaged: ${found}. Take the recording from where it was copied, or judge it without this file.`,
    { file: path },
    cause,
  )
}
