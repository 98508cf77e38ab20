/**
 * The guided jog: a person beside the arms says what they see, joint by joint, then presses the hard-wired stop; and, asked
 * for by itself, pulls a bus's plug. What fits becomes a confirmation. Arms are moved through a `JogSession`, which knows
 * whether they are simulated; questions go through `Ask`.
 */
import { DrystrokeError } from '../errors.js'
import type { Joint, Rig } from '../files/rig.js'
import { showQuantity } from '../units.js'
import type { ArmsKind, Confirmation } from './confirmed.js'
import type { PowerLost } from './power-loss.js'
import type { Ask } from './prompt.js'

const DEG = Math.PI / 180
/** rad: no joint is moved farther. */
export const FARTHEST = 5 * DEG
/** How far the distance that a person saw may be off, as a share of the true one: eyes and protractors beside an arm. */
const EYE = 0.5

/** s, by eye; drives stop within tenths of a second. Our own choice, no source. */
const STILL_WITHIN = 2

/** A bus without its host, as far as it could be measured. */
export interface Unplugged {
  /** s from the cut to the last joint of the bus still; null: it did not come to rest, or nothing of ours could see */
  readonly toStill: number | null
  /** The bus was seen to fall silent, or null: the link was never lost. */
  readonly lost: boolean
  /** Names of joints that moved on. */
  readonly moving: readonly string[]
}

/** Arms that follow, and do nothing by themselves. */
export interface JogSession {
  readonly arms: ArmsKind
  /** Who each joint's drive says that it is, once started; null: its protocol has no such thing. */
  drive(joint: number): string | null
  /** Everything to operation enabled, each joint held where it is. @throws DrystrokeError `not-confirmed` */
  start(): Promise<void>
  /** rad, from feedback */
  position(joint: number): number
  /** Moves one joint to `angle` from where it began, and waits until it is there. @throws DrystrokeError `not-confirmed` */
  moveTo(joint: number, angle: number): Promise<void>
  /** The hard-wired stop is pressed now (simulated arms: it is simulated). */
  powerLoss(): Promise<PowerLost>
  /** After an unplug, with the plug in again: rad that the joint stands away from where it was last heard. @throws DrystrokeError `not-confirmed` */
  lookAgain(joint: number): Promise<number>
  /** The plug of a bus is pulled while `joint`, which is on it, moves. */
  unplug(bus: number, joint: number): Promise<Unplugged>
  /** Arms to rest and without torque. */
  end(): Promise<void>
}

export interface Guide {
  readonly rig: Rig
  readonly session: JogSession
  readonly ask: Ask
  readonly say: (text: string) => void
  /** Now, as ISO 8601. */
  readonly now: () => string
  readonly by: string
  /** Of the rig as it is. */
  readonly hash: string
}

/** What came of it: confirmations, and what did not fit. */
export interface Jogged {
  readonly confirmed: readonly Confirmation[]
  readonly wrong: readonly string[]
}

/**
 * @param joints to move, one after another
 * @param angle rad, how far; at most FARTHEST
 */
export async function jogJoints(guide: Guide, joints: readonly Joint[], angle: number): Promise<Jogged> {
  const { session } = guide
  const confirmed: Confirmation[] = []
  const wrong: string[] = []
  await guide.session.start()
  for (const joint of joints) {
    const seen = await jogJoint(guide, joint, angle)
    if (seen.wrong) {
      wrong.push(`${joint.name}: ${seen.wrong}`)
      guide.say(`  Not confirmed: ${seen.wrong}.`)
    } else {
      const drive = session.drive(joint.index)
      confirmed.push(confirmation(guide, 'joint', joint.name, seen.found, { drive }))
    }
  }
  return { confirmed, wrong }
}

interface Seen {
  readonly found: string
  /** null: it fits */
  readonly wrong: string | null
}

async function jogJoint(guide: Guide, joint: Joint, angle: number): Promise<Seen> {
  const { session, say } = guide
  const { index, name, limits, axis } = joint
  const at = session.position(index)
  // Away from the nearer end of its range.
  const way = at > (limits.lower + limits.upper) / 2 ? -angle : angle
  if (at + way < limits.lower || at + way > limits.upper)
    return { found: '', wrong: 'it stands too near to the end of its range to be moved' }
  const sign = way > 0 ? '+' : '-'
  say(`\n${name}: about its axis (${axis.map((x) => Number(x.toFixed(3))).join(', ')}), right-handed: +`)
  say(
    `  It stands at ${showQuantity(at, 'rad')} and will move by at most ${showQuantity(angle, 'rad')}, and back.`,
  )
  await answer(guide, '  Press Enter when everybody is clear of the arms: ', () => true)
  await session.moveTo(index, way)
  const moved = session.position(index) - at
  const told = `moved ${showQuantity(moved, 'rad')} by its feedback`
  const direction = await answer(
    guide,
    '  Which way did this joint turn? + or -, 0: not at all, ?: another joint: ',
    (a) => ['+', '-', '0', '?'].includes(a),
  )
  const size = Number(
    await answer(guide, '  By about how many degrees? ', (a) => /^\d{1,3}([.]\d+)?$/.test(a)),
  )
  await session.moveTo(index, 0)
  const zero = await answer(
    guide,
    `  Does it stand at ${showQuantity(at, 'rad')} by its mark? y or n: `,
    (a) => ['y', 'n'].includes(a),
  )
  const found = `${told}; seen: ${direction}${size} deg, mark ${zero === 'y' ? 'right' : 'wrong'}`
  if (Math.abs(moved - way) > 0.2 * angle) return { found, wrong: `${told}, not ${showQuantity(way, 'rad')}` }
  if (direction === '?') return { found, wrong: 'another joint moved: its node or its bus is another one' }
  if (direction !== sign)
    return {
      found,
      wrong: `it should have turned ${sign}, and was seen to turn ${direction === '0' ? 'not at all' : direction}: look at wire.sign`,
    }
  if (Math.abs(size * DEG - angle) > EYE * angle)
    return {
      found,
      wrong: `it should have moved ${showQuantity(angle, 'rad')}, and was seen to move ${size} deg: look at wire.counts-per-turn`,
    }
  if (zero !== 'y') return { found, wrong: 'it does not stand where its mark says: look at wire.zero' }
  return { found, wrong: null }
}

/** The hard-wired stop, with the arms enabled and at rest. */
export async function pressStop(guide: Guide): Promise<Jogged> {
  const { session, say } = guide
  // First, so that nobody presses it while the arms are still being set up.
  await session.start()
  say('\nThe hard-wired stop: the arms are enabled and at rest.')
  say(
    session.arms === 'simulated'
      ? '  These arms are simulated: their power is taken away in the simulation.'
      : '  Press it after Enter. What is measured begins with the first sign on the bus, not with your hand.',
  )
  await answer(guide, '  Press Enter when everybody is clear of the arms: ', () => true)
  if (session.arms !== 'simulated') say('  Press the hard-wired stop now.')
  const lost = await session.powerLoss()
  const removed = await answer(
    guide,
    '  Did every drive lose its power, by what you see and hear? y or n: ',
    (a) => ['y', 'n'].includes(a),
  )
  if (lost.spread === null) return { confirmed: [], wrong: ['hard-wired stop: nothing on the bus showed it'] }
  if (lost.still.length > 0)
    return { confirmed: [], wrong: [`hard-wired stop: still with power: ${lost.still.join(', ')}`] }
  if (removed !== 'y')
    return { confirmed: [], wrong: ['hard-wired stop: not every drive was seen to lose its power'] }
  if (lost.moving.length > 0)
    return { confirmed: [], wrong: [`hard-wired stop: without power not at rest: ${lost.moving.join(', ')}`] }
  const found =
    `every drive lost power or fell silent within ${showQuantity(lost.spread, 's')} of the first sign on the bus; ` +
    `${restTold(lost)}; the press itself is not seen, and the arms stood still: no overall stopping time`
  say(`  ${found[0]!.toUpperCase()}${found.slice(1)}.`)
  return { confirmed: [confirmation(guide, 'stop', '', found, { time: lost.toRest })], wrong: [] }
}

function restTold({ toRest, travel, unseen }: PowerLost): string {
  if (toRest === null) {
    const whose = unseen.length > 3 ? `of ${unseen.length} joints` : `of ${unseen.join(', ')}`
    return `the feedback ${whose} ended with the power, so nothing shows when the last joint was at rest`
  }
  if (toRest === 0) return 'no joint was seen to leave its place'
  return `the last joint was at rest at least ${showQuantity(toRest, 's')} after the press, having moved by up to ${showQuantity(travel, 'rad')}`
}

/** The plug of a bus is pulled while one of its joints moves: its drives must stop without any host. */
export async function pullPlug(guide: Guide, bus: number, joint: Joint): Promise<Jogged> {
  const { rig, session, say } = guide
  const { name } = rig.buses[bus]!
  const not = (why: string): Jogged => ({ confirmed: [], wrong: [`${name}: ${why}`] })
  await session.start()
  say(`\n${name}: while ${joint.name} moves slowly, its plug is pulled; its drives must stop by themselves.`)
  if (session.arms !== 'simulated') {
    say(`  ${joint.name} goes to and fro for up to a minute. Pull the plug of ${name} while it moves.`)
    say('  Off the bus nothing of ours can hear the drives: watch whether and when the arm stops.')
  }
  await answer(guide, '  Press Enter when everybody is clear of the arms: ', () => true)
  const { toStill, lost, moving } = await session.unplug(bus, joint.index)
  if (!lost) return not('its plug was not pulled, or nothing on the bus showed it')
  if (moving.length > 0) return not(`moved on without a host: ${moving.join(', ')}`)
  if (toStill !== null) {
    const found = `still ${showQuantity(toStill, 's')} after its plug was pulled, with no host`
    say(`  ${found[0]!.toUpperCase()}${found.slice(1)}.`)
    return { confirmed: [confirmation(guide, 'unplug', name, found)], wrong: [] }
  }
  const alone = await answer(
    guide,
    `  Did ${joint.name} stop, and stay still? y or n: `,
    (a) => 'yn'.includes(a) && a.length === 1,
  )
  const time = await answer(guide, '  How long after the plug was pulled, in s, about? ', (a) =>
    /^\d{1,3}([.]\d+)?$/.test(a),
  )
  await answer(guide, '  Plug it in again. Press Enter when everybody is clear of the arms: ', () => true)
  const away = await session.lookAgain(joint.index)
  const told =
    `by eye still about ${time} s after its plug was pulled, with no host; plugged in again, ${joint.name} stood ` +
    `${showQuantity(away, 'rad')} from where it was last heard (nothing listened in between)`
  say(`  ${told[0]!.toUpperCase()}${told.slice(1)}.`)
  if (alone !== 'y') return not(`${joint.name} was seen to move on without a host`)
  if (Number(time) > STILL_WITHIN)
    return not(`${joint.name} was seen to move on for ${time} s without a host`)
  if (away > FARTHEST) return not(`${joint.name} moved on by ${showQuantity(away, 'rad')} without a host`)
  return { confirmed: [confirmation(guide, 'unplug', name, told)], wrong: [] }
}

export function confirmation(
  { now, by, hash, session }: Guide,
  what: Confirmation['what'],
  place: string,
  found: string,
  { drive = null, time = null }: Partial<Pick<Confirmation, 'drive' | 'time'>> = {},
): Confirmation {
  return { what, place, at: now(), by, rig: hash, arms: session.arms, drive, time, found }
}

/** Asks until the answer is one. @throws DrystrokeError `not-confirmed` when nobody answers any more */
async function answer(
  { ask, say }: Guide,
  question: string,
  good: (answer: string) => boolean,
): Promise<string> {
  for (;;) {
    const given = await ask(question)
    if (given === null)
      throw new DrystrokeError(
        'not-confirmed',
        'The answers ended before the jog did; what was not asked is not confirmed',
      )
    const trimmed = given.trim()
    if (good(trimmed)) return trimmed
    say('  That is none of the answers.')
  }
}
