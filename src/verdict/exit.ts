/** Exit status of the command line for verdicts. */
import { EXIT, type ExitStatus } from '../errors.js'
import type { Verdict } from './verdict.js'

/** Worst first: the first of these that occurs is the status of several runs. */
const ORDER: readonly ExitStatus[] = [
  EXIT.defect,
  EXIT.badInput,
  EXIT.stopped,
  EXIT.fail,
  EXIT.incomplete,
  EXIT.pass,
]

/** A run that a signal or a person ended is `stopped`, whatever it had come to. */
export function exitStatus(verdict: Pick<Verdict, 'outcome' | 'ended'>): ExitStatus {
  return verdict.ended === 'signal' || verdict.ended === 'operator' ? EXIT.stopped : EXIT[verdict.outcome]
}

/** Status of several; without any it is `pass`. */
export function exitStatusOfAll(statuses: readonly ExitStatus[]): ExitStatus {
  return ORDER.find((status) => statuses.includes(status)) ?? EXIT.pass
}
