/** `drystroke jog`: a person confirms each joint, the hard-wired stop, and each bus without its host. */
import { wall } from '../../clock.js'
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import { didYouMean, nearest } from '../../files/nearest.js'
import { resolvedRigText } from '../../files/resolved-text.js'
import type { Rig } from '../../files/rig.js'
import { rigHash, withConfirmations } from '../../ready/confirmed.js'
import { FARTHEST, type Guide, type Jogged, jogJoints, pressStop, pullPlug } from '../../ready/jog.js'
import { isReal } from '../../ready/may-move.js'
import { type Ask, cautionText } from '../../ready/prompt.js'
import { confirmedFile, readConfirmed, writeConfirmed } from '../../ready/store.js'
import { VirtualJog } from '../../ready/virtual-jog.js'
import { parseQuantity, showQuantity } from '../../units.js'
import { watchSchemas } from '../../watch/settings.js'
import { readRig } from '../inputs.js'
import { askOn } from '../person.js'

export interface JogArguments {
  readonly rig: string
  readonly bus: readonly string[]
  readonly joint: readonly string[]
  readonly unplug: string | undefined
  readonly by: string | undefined
  readonly angle: string
}

/** @throws DrystrokeError on bad input: then nothing was moved */
export async function jog(args: JogArguments): Promise<ExitStatus> {
  const { rigText, rig } = readRig(args.rig, args.bus)
  const angle = angleOf(args.angle)
  const joints =
    args.joint.length === 0 ? rig.joints : args.joint.map((name) => named(rig.joints, name, 'joint'))
  const bus = args.unplug === undefined ? null : named(rig.buses, args.unplug, 'bus')
  const file = confirmedFile(args.rig)
  const old = readConfirmed(file)
  if (isReal(rig)) {
    throw new DrystrokeError(
      'usage',
      `Rig ${rig.name} has real buses, which jog does not move yet; rehearse it on simulated arms with --bus mock`,
    )
  }
  const person = askOn(process.stdin, process.stdout)
  const say = (text: string): void => void process.stdout.write(`${text}\n`)
  const session = new VirtualJog(rig)
  try {
    say(simulatedText(rig))
    const by = args.by ?? (await nameOf(person.ask))
    const guide: Guide = {
      rig,
      session,
      ask: person.ask,
      say,
      now: wall.stamp,
      by,
      hash: rigHash(resolvedRigText(rigText, watchSchemas)),
    }
    const parts: Jogged[] = []
    const keep = (part: Jogged): void => {
      parts.push(part)
      if (part.confirmed.length > 0)
        writeConfirmed(file, rig.name, withConfirmations(readConfirmed(file), part.confirmed))
    }
    if (bus === null) {
      for (const joint of joints) keep(await jogJoints(guide, [joint], angle))
      if (args.joint.length === 0) keep(await pressStop(guide))
    } else {
      const own = rig.joints.find((j) => j.wire.bus === bus.index)
      if (own === undefined)
        throw new DrystrokeError('usage', `--unplug ${bus.name}: no joint is on this bus`)
      keep(await pullPlug(guide, bus.index, own))
    }
    return summary(parts, old.length === 0 && parts.every((p) => p.confirmed.length === 0) ? null : file, say)
  } finally {
    person.close()
    await session.end()
  }
}

function summary(parts: readonly Jogged[], file: string | null, say: (text: string) => void): ExitStatus {
  const confirmed = parts.flatMap((p) => p.confirmed)
  const wrong = parts.flatMap((p) => p.wrong)
  say(`\n${confirmed.length} confirmed, ${wrong.length} not.`)
  for (const one of wrong) say(`  ${one}`)
  if (confirmed.some((c) => c.simulated))
    say('The arms were simulated: a rehearsal, which counts for no real arm.')
  if (file !== null) say(`Kept in ${file}`)
  return wrong.length === 0 ? EXIT.pass : EXIT.fail
}

function simulatedText(rig: Rig): string {
  return `Jog of rig ${rig.name}, on simulated arms: a rehearsal.\n${cautionText(rig).split('\n').slice(1).join('\n')}`
}

async function nameOf(ask: Ask): Promise<string> {
  const name = (await ask('Your name, as it shall stand with what you confirm: '))?.trim()
  if (name) return name
  throw new DrystrokeError('not-confirmed', 'A confirmation needs the name of whoever gives it: --by NAME')
}

function angleOf(text: string): number {
  const angle = parseQuantity(text, 'angle')
  if (angle > 0 && angle <= FARTHEST * (1 + 1e-9)) return angle
  throw new DrystrokeError(
    'usage',
    `--angle ${text}: expected more than 0 and at most ${showQuantity(FARTHEST, 'rad')}, for example --angle "5 deg"`,
  )
}

function named<T extends { readonly name: string }>(
  list: readonly T[],
  name: string,
  what: 'joint' | 'bus',
): T {
  const found = list.find((one) => one.name === name)
  if (found) return found
  const names = list.map((one) => one.name)
  const advice = didYouMean(nearest(name, names))
  throw new DrystrokeError(
    'usage',
    `There is no ${what} ${name}; expected one of ${names.join(', ')}${advice && `; ${advice}`}`,
  )
}
