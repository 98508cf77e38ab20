/** What a person must see and type before real arms move. */
import { DrystrokeError } from '../errors.js'
import type { Rig } from '../files/rig.js'
import { cautionsFor } from '../verdict/cautions.js'

/** Asks a person and waits; null: there is nobody to answer any more. */
export type Ask = (question: string) => Promise<string | null>

export interface Prompt {
  readonly say: (text: string) => void
  /** null: no terminal. */
  readonly ask: Ask | null
  /** `--confirm NAME` */
  readonly confirm: string | undefined
}

/** Before everything else, whatever the rig is. */
const BEFORE = [
  'Press the hard-wired emergency stop once and see that it takes the power of every drive.',
  'Nobody stands within reach of an arm or a paddle, and somebody stands at the hard-wired stop.',
]
const UNBRAKED =
  'WARNING: this rig states that no brakes hold the unpowered arms. In every stop they sink: support them now.'

/** The text, one caution a line. */
export function cautionText(rig: Rig): string {
  const lines = [...cautionsFor(rig), ...BEFORE, ...(rig.stop.brakes ? [] : [UNBRAKED])]
  return [`Real arms of rig ${rig.name} are about to move.`, ...lines.map((line) => `  - ${line}`), ''].join(
    '\n',
  )
}

/**
 * Shows the cautions and has the rig's name typed, or takes it from `--confirm`.
 * @throws DrystrokeError `not-confirmed`
 */
export async function confirmMotion(rig: Rig, { say, ask, confirm }: Prompt): Promise<void> {
  say(cautionText(rig))
  if (confirm !== undefined) {
    if (confirm === rig.name) return
    throw refusal(`--confirm ${confirm}: this is rig ${rig.name}`, rig)
  }
  if (ask === null) throw refusal('there is no terminal to confirm on', rig)
  const typed = await ask(`Type the rig's name to let its arms move, anything else to leave: `)
  if (typed?.trim() !== rig.name) throw refusal('the name was not typed', rig)
}

function refusal(why: string, { name }: Rig): DrystrokeError {
  return new DrystrokeError(
    'not-confirmed',
    `Nothing was moved: ${why}. Real arms move only when somebody who sees them says so: type ${name} when asked, or give --confirm ${name}`,
    { rig: name },
  )
}
