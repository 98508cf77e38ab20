/** `drystroke stop`: has the arms of a rig stopped, by its guardian or by opening its buses, and says which drives confirmed. */
import { RealTime } from '../../clock.js'
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import type { Rig } from '../../files/rig.js'
import { confirmed } from '../../stop/halt.js'
import { placesHere } from '../../stop/places.js'
import { type StopPart, stopArms } from '../../stop/stop-arms.js'
import { readRig } from '../inputs.js'
import { columnsOf } from '../screen.js'
import { driveTable } from '../stop-table.js'

export interface StopArguments {
  readonly rig: string | undefined
  readonly bus: readonly string[]
}

const HARD_WIRED =
  'Press the hard-wired stop now, and keep clear of the arms until their power is off: a stop over a bus is no safety function.'

/** @throws DrystrokeError on bad input, and `bus-access` when no bus of the rig can be reached */
export async function stop(args: StopArguments): Promise<ExitStatus> {
  const { rig, rigFile } = readRig(args.rig, args.bus)
  if (rig.buses.every((b) => b.address.kind === 'mock'))
    throw new DrystrokeError(
      'usage',
      `${rigFile}: all buses of this rig are in the memory of the run that plays on it (mock), and no other process can stop it; end that run with Ctrl+C, or say where the buses are with --bus NAME=ADDRESS`,
    )
  const { parts, unreachable, others, troubles } = await stopArms(rig, new RealTime(), placesHere())
  for (const says of troubles) process.stderr.write(`${says}\n`)
  for (const uid of others) process.stderr.write(`${unbelieved(uid)}\n`)
  if (unreachable.length === rig.buses.length) throw nothingReached(rig, unreachable)
  const drives = parts.flatMap((part) => part.drives)
  const all = drives.every(confirmed)
  process.stdout.write(driveTable(drives, parts.map(how), columnsOf(process.stdout)))
  for (const { says } of unreachable) process.stderr.write(`Not reached: ${says}\n`)
  if (!all) process.stderr.write(`${HARD_WIRED}\n`)
  return all && unreachable.length === 0 ? EXIT.pass : EXIT.fail
}

function how({ by, drives }: StopPart, _: number, { length }: readonly StopPart[]): string {
  // Where several had a hand in it each is told for what.
  const what = length === 1 ? 'them' : `${drives[0]!.place} and ${drives.length - 1} more`
  if (by === 'bench') return `The run itself stopped ${what}`
  if (by === 'guardian') return `The guardian stopped ${what}`
  return length === 1
    ? 'No guardian answered: the stop was sent on the buses directly'
    : `No guardian answered for ${what}: the stop was sent on their buses directly`
}

function unbelieved(uid: number): string {
  return `A guardian of user ${uid} was asked as well and says that it stops arms on these buses. It is neither yours nor root's, so its word does not count here: look at the arms.`
}

function nothingReached(
  rig: Rig,
  unreachable: readonly { readonly bus: string; readonly says: string }[],
): DrystrokeError {
  const whys = unreachable.map(({ says }) => `  ${says}`).join('\n')
  return new DrystrokeError(
    'bus-access',
    `No bus of ${rig.name} can be reached: nothing was stopped. ${HARD_WIRED}\n${whys}`,
    { rig: rig.name },
  )
}
