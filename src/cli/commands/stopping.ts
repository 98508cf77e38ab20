/** `drystroke stopping`: how the simulated arms of a rig stop at 33, 66 and 100 % of speed, in every motion, all along the stroke. */

import { Interrupt } from '../../bench/interrupt.js'
import { ALL_MOTIONS, MOTION_CHOICES, type MotionChoice } from '../../bench/stop-motions.js'
import { type SpeedStudy, studyStops } from '../../bench/stop-study.js'
import { greatestSideSpeed } from '../../driver/fastest.js'
import { checkReach } from '../../driver/reach.js'
import { EXIT, type ExitStatus } from '../../errors.js'
import { NO_DISTANCE, stopTable } from '../../report/stop-table.js'
import { SIMULATED_CAUTION } from '../../verdict/cautions.js'
import { readRig } from '../inputs.js'
import { progressOn } from '../progress.js'
import { columnsOf } from '../screen.js'
import { refuseUnreachable } from '../unreachable.js'

export interface StoppingArguments {
  readonly rig: string | undefined
  /** Undefined: all of them. */
  readonly motion: MotionChoice | undefined
  readonly phases: number
  readonly seed: number
  readonly out: string | undefined
  readonly json: boolean
}

/** @throws DrystrokeError on bad input: then nothing was run and nothing written */
export async function stopping(args: StoppingArguments): Promise<ExitStatus> {
  // Whatever its buses are: these arms are simulated.
  const { rig, rigFile, rigText } = readRig(args.rig, ['mock'])
  refuseUnreachable(rigFile, checkReach(rig))
  const fastest = rig.stroke.fastest ?? greatestSideSpeed(rig)
  const motions = args.motion === undefined ? ALL_MOTIONS : MOTION_CHOICES[args.motion]
  const progress = progressOn(process.stderr)
  const interrupt = new Interrupt()
  const onSignal = (name: string): void => {
    interrupt.ask({ source: 'signal', says: `${name} was received` })
  }
  process.on('SIGINT', onSignal).on('SIGTERM', onSignal)
  let speeds: SpeedStudy[] | null
  try {
    speeds = await studyStops({
      rig,
      rigText,
      rigFile,
      fastest,
      motions,
      phases: args.phases,
      seed: args.seed,
      outDir: args.out ?? null,
      interrupt,
      onRun: progress.begin,
      onProgress: progress.at,
    })
  } finally {
    process.off('SIGINT', onSignal).off('SIGTERM', onSignal)
    progress.clear()
  }
  if (speeds === null) {
    process.stderr.write(
      'Stopped: a table of a part of the stops would look like a whole one, so none is shown.\n',
    )
    return EXIT.stopped
  }
  const table = { rig: rig.name, category: rig.stop.category, motions, phases: args.phases, speeds }
  if (args.json) {
    const { rig: name, ...rest } = table
    const about = { arms: 'simulated', basisForDistance: false, cautions: [SIMULATED_CAUTION, NO_DISTANCE] }
    const head = { format: 'drystroke-stopping-2', rig: name, ...about, seed: args.seed, fastest }
    process.stdout.write(`${JSON.stringify({ ...head, ...rest }, null, 2)}\n`)
  } else process.stdout.write(stopTable(table, columnsOf(process.stdout)))
  if (args.out !== undefined && !args.json) process.stdout.write(`\nRecordings are in ${args.out}\n`)
  return speeds.every((s) => s.notPassed.length === 0) ? EXIT.pass : EXIT.fail
}
