/** `drystroke check`: reads the files and says all that can be said before anything runs, without a bus and without writing anything. */
import { EXIT, type ExitStatus } from '../../errors.js'
import { worstLevel } from '../../preflight/line.js'
import { type Preflight, preflight } from '../../preflight/preflight.js'
import { preflightText } from '../../preflight/text.js'
import { wrap } from '../../report/wrap.js'
import { type Inputs, readInputs } from '../inputs.js'
import { columnsOf } from '../screen.js'

export interface CheckArguments {
  readonly scenarios: readonly string[]
  readonly rig: string | undefined
  readonly bus: readonly string[]
  readonly json: boolean
}

/** @throws DrystrokeError on bad files */
export function check(args: CheckArguments): ExitStatus {
  const inputs = readInputs(args.scenarios, args.rig, args.bus)
  const found = preflight(
    inputs.rig,
    inputs.scenarios.map(({ scenario }) => scenario),
  )
  const level = worstLevel(found.lines)
  const text = args.json
    ? JSON.stringify({ rig: inputs.rig.name, notes: inputs.notes, level, ...found }, null, 2)
    : checkText(inputs, found, columnsOf(process.stdout))
  process.stdout.write(`${text}\n`)
  if (!found.reach.every((r) => r.reachable)) return EXIT.badInput
  return level === 'fail' ? EXIT.fail : EXIT.pass
}

function checkText({ rig, rigFile, scenarios, notes }: Inputs, found: Preflight, width: number): string {
  return [
    `Rig ${rig.name} (${rigFile}): ${rig.arms.length} arms, ${rig.joints.length} joints, ${rig.buses.length} buses`,
    `Scenarios: ${scenarios.length}, files in order`,
    ...notes.flatMap((note) => wrap(`Note: ${note}`, width, 0, 2)),
    '',
    ...preflightText(rig, found, width),
  ].join('\n')
}
