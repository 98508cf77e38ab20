/** What the guardian's account of a run that it ended says to the verdict: incomplete at best, never a pass. */
import type { Finding } from '../files/event.js'
import type { GuardianEvent } from '../files/guardian-event.js'
import { showQuantity } from '../units.js'

/** Of findings that are the guardian's account. */
export const GUARDIAN = 'guardian'

/** @param account whole @param timeout s, the guardian's; null when there is no account */
export function guardianFinding(account: readonly GuardianEvent[], timeout: number): Finding | null {
  const takeover = of(account, 'takeover')
  const end = of(account, 'end')
  if (!takeover || !end) return null
  const stop = of(account, 'stop')
  const ended = of(account, 'bench ended')
  const rest =
    end.still === null
      ? 'not every joint was seen at rest'
      : `the last joint was at rest ${showQuantity((end.still - takeover.t) / 1e9, 's')} after that`
  const gone = account.find((e) => e.kind === 'bench ended' && e.gone)
  const late = gone
    ? ` The bench process was gone only ${showQuantity((gone.t - takeover.t) / 1e9, 's')} after that, when the stop was under way.`
    : ' The bench process could not be ended.'
  const driver = of(account, 'driver ended')
  const drives = driver && !driver.gone ? ' The process of the driver could not be ended.' : ''
  const left = `${ended && !ended.gone ? late : ''}${drives}`
  return {
    watch: GUARDIAN,
    severity: 'doubt',
    place: '',
    t: takeover.t,
    quantity: 'time since the last finished tick',
    value: takeover.unheard / 1e9,
    limit: timeout,
    unit: 's',
    says: `The guardian stopped the arms, because ${takeover.says}; ${end.confirmed} of ${end.drives} drives confirmed, ${rest}.${left}`,
    why: 'A run that its own bench process did not end has not shown what it should, and what the process did last is not known.',
    look:
      end.confirmed === end.drives
        ? 'What else the machine was doing, and whether the process was killed: the end of events.jsonl, and guardian.jsonl beside it.'
        : 'The drives that confirmed nothing, before anybody goes near the arms: guardian.jsonl says which.',
    stop: stop?.category ?? null,
  }
}

function of<K extends GuardianEvent['kind']>(
  account: readonly GuardianEvent[],
  kind: K,
): Extract<GuardianEvent, { kind: K }> | undefined {
  return account.find((e): e is Extract<GuardianEvent, { kind: K }> => e.kind === kind)
}
