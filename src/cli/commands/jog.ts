/** `drystroke jog`: a person confirms each joint, the hard-wired stop, and each bus without its host. */
import { STOP_SIGNALS } from '../../bench/realtime/signals.js'
import { wall } from '../../clock.js'
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import type { OutsideStop } from '../../files/event.js'
import { didYouMean, nearest } from '../../files/nearest.js'
import { resolvedRigText } from '../../files/resolved-text.js'
import { type Rig, withoutDriver } from '../../files/rig.js'
import { BenchJog } from '../../ready/bench-jog.js'
import { type ArmsKind, rigHash, withConfirmations } from '../../ready/confirmed.js'
import { FARTHEST, type Guide, type Jogged, jogJoints, pressStop, pullPlug } from '../../ready/jog.js'
import { isReal } from '../../ready/may-move.js'
import { type Ask, cautionText, confirmMotion } from '../../ready/prompt.js'
import { askStoppingTime } from '../../ready/stopping-time.js'
import { confirmedFile, readConfirmed, writeConfirmed } from '../../ready/store.js'
import { VirtualJog } from '../../ready/virtual-jog.js'
import { wrapLines } from '../../report/wrap.js'
import { parseQuantity, showQuantity } from '../../units.js'
import { watchSchemas } from '../../watch/settings.js'
import { readRig } from '../inputs.js'
import { KEYS_HINT } from '../operator-keys.js'
import { askByKeys, askOn } from '../person.js'
import { columnsOf } from '../screen.js'

export interface JogArguments {
  readonly rig: string
  readonly bus: readonly string[]
  readonly joint: readonly string[]
  readonly unplug: string | undefined
  /** Only the hard-wired stop and its time. */
  readonly hardStop: boolean
  readonly by: string | undefined
  readonly angle: string
  /** Also where no bus asks for it. */
  readonly realtime: boolean
  readonly standIn: string | undefined
  readonly out: string
  readonly confirm: string | undefined
}

/** @throws DrystrokeError on bad input: then nothing was moved */
export async function jog(args: JogArguments): Promise<ExitStatus> {
  const read = readRig(args.rig, args.bus)
  const { rigText } = read
  const rig = withoutDriver(read.rig)
  const angle = angleOf(args.angle)
  const joints =
    args.joint.length === 0 ? rig.joints : args.joint.map((name) => named(rig.joints, name, 'joint'))
  const bus = args.unplug === undefined ? null : named(rig.buses, args.unplug, 'bus')
  if (args.hardStop && (bus !== null || args.joint.length > 0))
    throw new DrystrokeError('usage', '--hard-stop: leave --joint and --unplug out')
  const file = confirmedFile(args.rig)
  const old = readConfirmed(file)
  const real = isReal(rig)
  if (args.standIn !== undefined && !real)
    throw new DrystrokeError(
      'usage',
      `--stand-in: rig ${rig.name} has mock buses only; say with --bus where the stand-in serves`,
    )
  if (args.realtime && !real && bus !== null)
    throw new DrystrokeError(
      'usage',
      '--unplug on mock buses is rehearsed in virtual time: leave --realtime out',
    )
  const resolved = resolvedRigText(rigText, watchSchemas)
  // Names hold blanks; once the arms have power a blank stops them.
  const lines = askOn(process.stdin, process.stdout)
  const say = (text: string): void =>
    void process.stdout.write(`${wrapLines(text, columnsOf(process.stdout))}\n`)
  const live =
    real || args.realtime
      ? new BenchJog({
          ...{
            rig,
            rigText: resolved,
            rigFile: args.rig,
            standIn: args.standIn ?? null,
            outDir: args.out,
            seed: 1,
          },
        })
      : null
  const session = live ?? new VirtualJog(rig)
  let person = lines
  /** After keys were taken one by one. */
  let calm: typeof lines | null = null
  const stop = (asked: OutsideStop): void => live?.stop(asked)
  const onSignal = (name: string): void => stop({ source: 'signal', says: `${name} was received` })
  /** Nothing has power any more: keys and signals do again what they do everywhere. */
  const letGo = async (): Promise<void> => {
    await session.end()
    if (person !== lines) person.close()
    if (live) for (const signal of STOP_SIGNALS) process.off(signal, onSignal)
  }
  try {
    if (session.arms === 'real') await confirmMotion(rig, { say, ask: lines.ask, confirm: args.confirm })
    else say(rehearsalText(rig, session.arms))
    const by = args.by ?? (await nameOf(lines.ask))
    if (live) {
      for (const signal of STOP_SIGNALS) process.on(signal, onSignal)
      if (process.stdin.isTTY) {
        lines.close()
        person = askByKeys(process.stdin, process.stdout, stop) ?? lines
        if (person !== lines) say(`From now on: ${KEYS_HINT}, in an answer too.`)
      }
      say('The arms are set up, and the stop path is proven; then they are held where they are ...')
    }
    const ask: Ask = live ? (question) => Promise.race([person.ask(question), live.gone]) : person.ask
    const guide: Guide = {
      rig,
      session,
      ask,
      say,
      now: wall.stamp,
      by,
      hash: rigHash(resolved),
    }
    const parts: Jogged[] = []
    const keep = (part: Jogged): void => {
      parts.push(part)
      if (part.confirmed.length > 0)
        writeConfirmed(file, rig.name, withConfirmations(readConfirmed(file), part.confirmed))
    }
    if (bus === null) {
      if (!args.hardStop) for (const joint of joints) keep(await jogJoints(guide, [joint], angle))
      if (args.joint.length === 0) {
        const pressed = await pressStop(guide)
        keep(pressed)
        await letGo()
        const [stopped] = pressed.confirmed
        if (stopped) {
          if (person !== lines) {
            person = lines
            calm = askOn(process.stdin, process.stdout)
          }
          keep(await askStoppingTime({ ...guide, ask: (calm ?? lines).ask }, stopped))
        }
      }
    } else {
      const own = rig.joints.find((j) => j.wire.bus === bus.index)
      if (own === undefined)
        throw new DrystrokeError('usage', `--unplug ${bus.name}: no joint is on this bus`)
      keep(await pullPlug(guide, bus.index, own))
    }
    return summary(parts, old.length === 0 && parts.every((p) => p.confirmed.length === 0) ? null : file, say)
  } finally {
    lines.close()
    await letGo()
    calm?.close()
  }
}

function summary(parts: readonly Jogged[], file: string | null, say: (text: string) => void): ExitStatus {
  const confirmed = parts.flatMap((p) => p.confirmed)
  const wrong = parts.flatMap((p) => p.wrong)
  say(`\n${confirmed.length} confirmed, ${wrong.length} not.`)
  for (const one of wrong) say(`  ${one}`)
  if (confirmed.some((c) => c.arms !== 'real'))
    say('The arms were no real ones: a rehearsal, which counts for no real arm.')
  if (file !== null) say(`Kept in ${file}`)
  return wrong.length === 0 ? EXIT.pass : EXIT.fail
}

function rehearsalText(rig: Rig, arms: ArmsKind): string {
  const on = arms === 'stand-in' ? 'on a stand-in' : 'on simulated arms'
  return `Jog of rig ${rig.name}, ${on}: a rehearsal.\n${cautionText(rig).split('\n').slice(1).join('\n')}`
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
