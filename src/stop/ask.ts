/** Asks the guardian of a rig, if there is one, to have the arms stopped. */
import { later } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { meet, meetingPlace } from './guardian/meeting-place.js'
import { LineReader, lineOf, type ToAsker } from './guardian/messages.js'

export type Answer = Extract<ToAsker, { what: 'stopped' }>

/** ms, until a guardian says that it has heard; one that is there answers at once, but this process may be kept waiting. */
const HEARD_WITHIN = 2000
/** s beyond the rig's stop time-out: the guardian's own patience, and the way there and back. */
const ANSWER_WITHIN = 6

/** @returns what came of it; null: no guardian answers, or it was lost before it did */
export async function askGuardian(rig: Rig): Promise<Answer | null> {
  const socket = await meet(meetingPlace(rig))
  if (!socket) return null
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
    const reader = new LineReader()
    socket.on('error', () => settle(null))
    socket.on('close', () => settle(null))
    socket.on('data', (bytes) => {
      reader.read(bytes, (line) => {
        const said = JSON.parse(line) as ToAsker
        if (said.what === 'stopped') settle(said)
        else {
          forget()
          forget = later((rig.stop.timeout + ANSWER_WITHIN) * 1e3, giveUp)
        }
      })
    })
    socket.write(lineOf({ what: 'stop' }))
  })
}
