/** `drystroke stop`: has the arms of a rig stopped, by its guardian or by opening its buses, and says which drives confirmed. */
import { RealTime } from '../../clock.js'
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import type { Rig } from '../../files/rig.js'
import { type Answer, askGuardian } from '../../stop/ask.js'
import { stopDirectly } from '../../stop/direct.js'
import { confirmed, type Halted } from '../../stop/halt.js'
import { leaveStopMark } from '../../stop/mark.js'
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
  const answer = await guardianOf(rig)
  if (answer) {
    const by = answer.by === 'bench' ? 'The run itself stopped them' : 'The guardian stopped them'
    return tell(answer.drives, by, [])
  }
  const { drives, unreachable } = await stopDirectly(rig, new RealTime())
  if (drives.length === 0) throw nothingReached(rig, unreachable)
  const lost = unreachable.map(({ says }) => says)
  return tell(drives, 'No guardian answered: the stop was sent on the buses directly', lost)
}

/** Whatever is wrong with the place where guardians are met, the buses are still there. */
async function guardianOf(rig: Rig): Promise<Answer | null> {
  try {
    // Before it is asked: a run that is about to begin has no guardian yet, and finds this.
    leaveStopMark(rig)
    return await askGuardian(rig)
  } catch (error) {
    process.stderr.write(`No guardian can be asked: ${(error as Error).message}\n`)
    return null
  }
}

function tell(drives: readonly Halted[], how: string, unreachable: readonly string[]): ExitStatus {
  const all = drives.length > 0 && drives.every(confirmed)
  process.stdout.write(driveTable(drives, how, columnsOf(process.stdout)))
  for (const says of unreachable) process.stderr.write(`Not reached: ${says}\n`)
  if (!all) process.stderr.write(`${HARD_WIRED}\n`)
  return all && unreachable.length === 0 ? EXIT.pass : EXIT.fail
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
