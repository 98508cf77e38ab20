/**
 * The overall stopping time of the hard-wired stop, asked for after its guided test: what a person read off an instrument, or
 * nothing. The harness has none of its own to offer. It sees neither the press nor what comes before the first sign on the
 * bus, and in its test the arms stand still; so what it saw is less than the time that is asked for, and is only held against
 * it: a reading that is shorter cannot be one.
 */
import { parseQuantity, showQuantity } from '../units.js'
import type { Confirmation } from './confirmed.js'
import { confirmation, type Guide, type Jogged } from './jog.js'

/** s, as in the rig file */
const LEAST = 0.001
const MOST = 30
const LONGEST_TEXT = 1000

const WHAT_IT_IS =
  'The overall stopping time of the hard-wired stop: from the moment it is actuated to the last part at rest, at the full speed and load of these arms, measured with an instrument of its own. What was seen above is no such time.'

/**
 * Answers are lines with blanks in them: keys must not stop anything any more.
 * @param stop confirmation of the stop that it is the time of
 */
export async function askStoppingTime(guide: Guide, stop: Pick<Confirmation, 'time'>): Promise<Jogged> {
  const { say } = guide
  const none: Jogged = { confirmed: [], wrong: [] }
  say(`\n${WHAT_IT_IS}`)
  const time = await readingOf(guide, stop.time ?? 0)
  if (time === null) {
    say('  None is kept: without it there is no separation distance.')
    return none
  }
  const how = await howOf(guide)
  if (how === null) return none
  say(`  Kept: ${showQuantity(time, 's')}. It counts for this state of the rig file, until it expires.`)
  return { confirmed: [confirmation(guide, 'stopping-time', '', how, { time })], wrong: [] }
}

/** s; null: none was taken, or nobody answers. @param least s, that the test itself has seen */
async function readingOf({ ask, say }: Guide, least: number): Promise<number | null> {
  for (;;) {
    const given = (await ask('  Its reading, such as 320 ms; Enter alone: none was taken: '))?.trim() ?? ''
    if (given === '') return null
    const time = timeIn(given)
    if (time === null)
      say('  That is no time: expected one with its unit, from 1 ms to 30 s, such as 320 ms.')
    else if (time < least)
      say(
        `  That cannot be: in the test above a joint was seen to go on for ${showQuantity(least, 's')}, and the press came before.`,
      )
    else return time
  }
}

function timeIn(text: string): number | null {
  try {
    const time = parseQuantity(text, 'time')
    return time >= LEAST && time <= MOST ? time : null
  } catch {
    return null
  }
}

async function howOf({ ask, say }: Guide): Promise<string | null> {
  say('  Which instrument, at what speed and load, the worst of how many readings?')
  for (;;) {
    const given = await ask('  In a sentence: ')
    if (given === null) return null
    const how = given.trim()
    if (how !== '' && how.length <= LONGEST_TEXT) return how
    say('  A time without this cannot be judged by anybody: say it in a sentence.')
  }
}
