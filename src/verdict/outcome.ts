/**
 * Pass, fail or incomplete, and why in one sentence. A failure always fails, also in a run that was cut short later.
 * Missing evidence turns what else would pass into incomplete, never a failure into something better.
 */
import type { Finding } from '../files/event.js'
import { showBeside, showQuantity } from '../units.js'
import { butUnseen, type Held, inScenario, isFromOutside, type RunFacts, told } from './expectations.js'
import { GUARDIAN } from './guardian.js'
import type { Outcome } from './verdict.js'

export interface OutcomeAndReason {
  readonly outcome: Outcome
  readonly sentence: string
}

/** @param doubts findings of severity doubt; @param warnings how many warnings there were */
export function outcomeOf(
  facts: RunFacts,
  held: Held,
  doubts: readonly Finding[],
  warnings: number,
): OutcomeAndReason {
  const reason = withoutBench(facts, held, doubts, warnings)
  if (facts.benchFault === null || reason.outcome === 'pass') return reason
  // First what may have brought about the rest.
  const [, word, rest] = /^(\w+: )(.*)$/s.exec(reason.sentence)!
  return { ...reason, sentence: `${word}bench at fault: ${facts.benchFault}. Besides: ${rest}` }
}

function withoutBench(
  facts: RunFacts,
  { rows, unexpected }: Held,
  doubts: readonly Finding[],
  warnings: number,
): OutcomeAndReason {
  const incomplete = (why: string): OutcomeAndReason => ({
    outcome: 'incomplete',
    sentence: `Incomplete: ${why}`,
  })
  // Also where frames alone look like a failure: an expected stop may be missing beside them.
  if (!facts.begun) {
    return incomplete(
      'the events of the run are missing, and frames alone do not say what was asked of the arms.',
    )
  }
  const unmet = rows.find((r) => !r.row.met && !r.unknown)
  const failure = unexpected[0]
  if (failure !== undefined) return { outcome: 'fail', sentence: `Fail: ${findingTold(facts, failure)}` }
  const { stop } = facts
  if (
    unmet !== undefined &&
    stop !== null &&
    facts.scenario.expect.outcome === 'finish' &&
    !isFromOutside(stop)
  ) {
    return {
      outcome: 'fail',
      sentence: `Fail: ${told(facts, stop)}, which nobody expected: ${stop.says.replace(/\.$/, '')}.`,
    }
  }
  if (unmet !== undefined) {
    const { expected, found } = unmet.row
    return { outcome: 'fail', sentence: `Fail: expected ${expected}; found: ${found}.` }
  }
  const guarded = doubts.find((f) => f.watch === GUARDIAN)
  if (guarded !== undefined) return incomplete(findingTold(facts, guarded))
  if (facts.ended === 'cut short') {
    return incomplete(
      `the run was cut short at ${inScenario(facts, facts.last)}, so it has not shown what it should.`,
    )
  }
  if ((facts.ended === 'signal' || facts.ended === 'operator') && stop !== null && stop.source !== 'signal')
    return incomplete(`the run was stopped at ${inScenario(facts, stop.t)}: ${stop.says}.`)
  if (facts.ended === 'signal')
    return incomplete(`a signal stopped the run at ${inScenario(facts, facts.stop?.t ?? facts.last)}.`)
  const doubt = doubts[0]
  if (doubt !== undefined) return incomplete(findingTold(facts, doubt))
  const unknown = rows.find((r) => r.unknown)
  if (unknown !== undefined)
    return incomplete(`expected ${unknown.row.expected}; found: ${unknown.row.found}.`)
  return { outcome: 'pass', sentence: `Pass: ${passTold(facts)}${warningsTold(warnings)}` }
}

/** `port.elbow at 6.120 s: The joint was off its setpoint ... (following error 2.10 deg, limit 1.50 deg).` */
function findingTold(facts: RunFacts, f: Finding): string {
  const where = f.place === '' ? 'the rig' : f.place
  const [value, limit] = showBeside(f.value, f.limit, f.unit)
  const figures = f.unit === 'none' ? f.quantity : `${f.quantity} ${value}, limit ${limit}`
  return `${where} at ${inScenario(facts, f.t)}: ${f.says.replace(/\.$/, '')} (${figures}).`
}

function passTold(facts: RunFacts): string {
  const { stop, scenario } = facts
  if (stop === null)
    return `the scenario played its ${showQuantity(scenario.duration, 's')} without a stop or a failure.`
  const all = facts.unseen.length === 0 ? 'every joint' : 'every other joint'
  const still = stop.toStill === null ? '' : `; ${all} was still ${showQuantity(stop.toStill, 's')} later`
  return `${told(facts, stop)} was expected${still}${butUnseen(facts)}.`
}

function warningsTold(count: number): string {
  return count === 0 ? '' : ` ${count} ${count === 1 ? 'warning' : 'warnings'}.`
}
