/** What is said when a stroke cannot be reached: `run` refuses it as bad input, `check` shows it in full. */
import { phasesOf, type ReachReport } from '../driver/reach.js'
import { DrystrokeError } from '../errors.js'

/** @throws DrystrokeError `unreachable` that names arm, motion, phase and reason of each first failure */
export function refuseUnreachable(rigFile: string, reports: readonly ReachReport[]): void {
  const failing = reports.filter((r) => !r.reachable)
  if (failing.length === 0) return
  const lines = failing.map((r) => {
    const first = r.failures[0]!
    return `${rigFile}: arm ${r.arm} cannot reach its stroke (${first.motion}, ${phasesOf(first)}): ${first.reason}`
  })
  throw new DrystrokeError(
    'unreachable',
    `${lines.join('\n')}\nShorten the stroke, move the base or widen the limits; drystroke check shows the whole stroke.`,
    { file: rigFile },
  )
}
