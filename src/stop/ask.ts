/**
 * Asks a guardian to have the arms stopped. What comes back is judged by whose guardian it is: see stop-arms.ts. Whatever it
 * says, or does not say, ends in an answer or none.
 */
import type { Socket } from 'node:net'
import { later } from '../clock.js'
import { meet, type Place } from './guardian/meeting-place.js'
import { LineReader, lineOf, type ToAsker } from './guardian/messages.js'

export type Answer = Extract<ToAsker, { what: 'stopped' }>

/** ms, until a guardian says that it has heard; one that is there answers at once, but this process may be kept waiting. */
const HEARD_WITHIN = 2000
/** s beyond the rig's stop time-out: the guardian's own patience, and the way there and back. */
const ANSWER_WITHIN = 6

export interface Asked {
  readonly place: Place
  /** Drives that it stops (`driveNames`), null: it does not answer. */
  readonly heard: Promise<readonly string[] | null>
  /** What came of it; null: it does not answer, or was lost before it did. Never before `heard`. */
  readonly answer: Promise<Answer | null>
  /** Hears no more: who is still waited for does not answer. */
  readonly leave: () => void
}

/** @param timeout s, of the rig's stop */
export function ask(place: Place, timeout: number): Asked {
  let onHeard: (stops: readonly string[] | null) => void = () => {}
  const heard = new Promise<readonly string[] | null>((resolve) => {
    onHeard = resolve
  })
  let leave: () => void = () => {}
  const answer = meet(place.path).then((met) => {
    if (typeof met === 'string') return null
    leave = () => met.destroy()
    return converse(met, timeout, onHeard)
  })
  // Nobody is heard after the conversation is over.
  const over = answer.then((a) => {
    onHeard(null)
    return a
  })
  return { place, heard, answer: over, leave: () => leave() }
}

function converse(
  socket: Socket,
  timeout: number,
  onHeard: (stops: readonly string[]) => void,
): Promise<Answer | null> {
  return new Promise((resolve) => {
    const settle = (answer: Answer | null): void => {
      forget()
      socket.destroy()
      resolve(answer)
    }
    // What has come in meanwhile is read first: it is this process that may have been late.
    const giveUp = (): void => {
      setImmediate(() => settle(null))
    }
    let forget = later(HEARD_WITHIN, giveUp)
    let isHeard = false
    const reader = new LineReader()
    socket.on('error', () => settle(null))
    socket.on('close', () => settle(null))
    socket.on('data', (bytes) => {
      try {
        reader.read(bytes, (line) => {
          const said = JSON.parse(line) as ToAsker
          if (said.what === 'stopped') settle(Array.isArray(said.drives) ? said : null)
          // Once: whoever says so again and again gains no time.
          else if (!isHeard) {
            isHeard = true
            forget()
            forget = later((timeout + ANSWER_WITHIN) * 1e3, giveUp)
            onHeard(Array.isArray(said.stops) ? said.stops : [])
          }
        })
      } catch {
        // That is no guardian of ours.
        settle(null)
      }
    })
    socket.write(lineOf({ what: 'stop' }))
  })
}
