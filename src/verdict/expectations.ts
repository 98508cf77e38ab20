/** What a scenario expects, held against what the run showed. */
import { type Nanos, nanos } from '../clock.js'
import { type Finding, OUTSIDE_SOURCES } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { ExpectFinish, ExpectStop, Scenario } from '../files/scenario.js'
import { showQuantity } from '../units.js'
import type { ArmStrokes } from '../watch/sense.js'
import type { ExpectationRow, StopFacts, Verdict } from './verdict.js'

/** What the judge knows of a run when it is over. */
export interface RunFacts {
  readonly rig: Rig
  readonly scenario: Scenario
  /** Time of scenario zero, null: it never began. */
  readonly zero: Nanos | null
  /** Time at which the scenario was over and the blades were sent to park, null: never. */
  readonly played: Nanos | null
  readonly last: Nanos
  /** False: no event says that this run began; there are frames alone. */
  readonly begun: boolean
  readonly ended: Verdict['ended']
  /** The first stop. */
  readonly stop: StopFacts | null
  readonly stops: number
  readonly moved: boolean
  /** Names of joints that could not be seen after a stop. */
  readonly unseen: readonly string[]
  readonly strokes: readonly ArmStrokes[]
  /** Findings of severity failure; `more` of them were not kept. */
  readonly failures: readonly Finding[]
  readonly moreFailures: number
  /** Some records were dropped: from there on nothing is known. */
  readonly lost: boolean
  /** What the bench's timing is at fault for, in words, or null. */
  readonly benchFault: string | null
}

export interface Judged {
  readonly row: ExpectationRow
  /** Not met, but only because the evidence is missing. */
  readonly unknown: boolean
}

export interface Held {
  readonly rows: readonly Judged[]
  /** Failures that are not the cause of the expected stop. */
  readonly unexpected: readonly Finding[]
}

export function holdAgainst(facts: RunFacts): Held {
  const { expect } = facts.scenario
  return expect.outcome === 'finish' ? finish(facts, expect) : stop(facts, expect)
}

/** A run that was cut short, was not recorded whole, or ended from outside or by its bench, has not shown what it did not come to. */
function cut({ ended, stop, lost }: RunFacts): boolean {
  return lost || ended === 'cut short' || ended === 'signal' || ended === 'operator' || isBenchOverrun(stop)
}

/** The loop itself was too late: that says nothing about arms or driver. */
function isBenchOverrun(stop: Pick<StopFacts, 'source'> | null): boolean {
  return stop?.source === 'timing'
}

/** Neither the arms nor their driver brought this stop about. */
export function isFromOutside(stop: Pick<StopFacts, 'source'> | null): boolean {
  return stop !== null && (isBenchOverrun(stop) || OUTSIDE_SOURCES.some((source) => source === stop.source))
}

function row(expected: string, found: string, met: boolean, unknown = false): Judged {
  return { row: { expected, found, met }, unknown: !met && unknown }
}

function finish(facts: RunFacts, expect: ExpectFinish): Held {
  const { rig, scenario, zero, played, stop: first } = facts
  const { duration } = scenario
  const whole = zero !== null && played !== null && played - zero >= nanos(duration) - halfPeriod(rig)
  const completed = whole && facts.ended === 'completed' && first === null
  const reached = zero === null ? 'it never began' : `it came to ${inScenario(facts, facts.last)}`
  const rows = [
    row(
      `the scenario plays its ${showQuantity(duration, 's')}`,
      completed ? 'it did' : reached,
      completed,
      cut(facts),
    ),
    row('no stop', first === null ? 'none' : told(facts, first), first === null, isFromOutside(first)),
    noFailure('no failure', facts.failures.length + facts.moreFailures),
    ...expect.strokes.map(({ arm, direction, least }) => {
      const count = facts.strokes[arm]![direction]
      const expected = `${rig.arms[arm]!.name}: at least ${least} strokes ${direction}`
      return row(expected, String(count), count >= least, cut(facts))
    }),
  ]
  if (expect.parked) {
    const wet = rig.arms.filter((arm) => facts.strokes[arm.index]!.out === false)
    const unseen = facts.strokes.some((s) => s.out === null)
    const found =
      wet.length > 0 ? `in the water: ${wet.map((a) => a.name).join(', ')}` : unseen ? 'not seen' : 'they are'
    const met = wet.length === 0 && !unseen
    rows.push(row('all blades are out of the water at the end', found, met, cut(facts) || wet.length === 0))
  }
  return { rows, unexpected: facts.failures }
}

function stop(facts: RunFacts, expect: ExpectStop): Held {
  const { rig, zero, stop: first } = facts
  const place = expectedPlace(expect, rig)
  const cause = zero === null ? null : zero + nanos(expect.after)
  const right = first !== null && first.source === expect.by && (place === null || first.place === place)
  const open = cut(facts) && (first === null || isFromOutside(first))
  const expected = `a stop by ${expect.by}${place === null ? '' : ` at ${place}`}`
  const rows = [row(expected, first === null ? 'none' : told(facts, first), right, open)]

  if (expect.category !== null) {
    const found = first === null ? 'no stop' : String(first.category)
    rows.push(row(`stop category ${expect.category}`, found, first?.category === expect.category, open))
  }

  const delay = first === null || cause === null ? null : (first.t - cause) / 1e9
  const inTime = delay !== null && delay >= -rig.control.period / 2 && delay <= expect.within
  const timing = `within ${showQuantity(expect.within, 's')} of ${showQuantity(expect.after, 's')}`
  rows.push(row(timing, delay === null ? 'never' : lateness(delay), inTime, open))

  const toStill = first?.toStill ?? null
  const seen = toStill === null ? 'not seen' : `after ${showQuantity(toStill, 's')}${butUnseen(facts)}`
  const still = toStill !== null && toStill <= expect.still
  // A joint that is seen to move on is a failure of the watch; here only the evidence is missing.
  const noStill = first !== null && toStill === null
  rows.push(row(`still within ${showQuantity(expect.still, 's')} of the stop`, seen, still, open || noStill))

  if (expect.noMotion) {
    const over = zero !== null && facts.last >= zero + nanos(facts.scenario.duration) - halfPeriod(rig)
    const watched = over ? 'none' : `watched only to ${inScenario(facts, facts.last)}`
    const found = first === null ? 'no stop, so not judged' : facts.moved ? 'a joint moved' : watched
    const met = first !== null && !facts.moved && over
    rows.push(row('no motion after that, to the end of the scenario', found, met, cut(facts) && !facts.moved))
  }

  const unexpected = facts.failures.filter(
    (f) => !(right && inTime && isCause(f, first, cause!, expect.still, rig)),
  )
  const others =
    unexpected.length + facts.moreFailures + Math.max(0, facts.stops - 1) + (first?.escalation ? 1 : 0)
  rows.push(noFailure('no other failure and no other stop', others))
  return { rows, unexpected }
}

function expectedPlace({ joint, bus }: ExpectStop, rig: Rig): string | null {
  if (joint !== null) return rig.joints[joint]!.name
  return bus === null ? null : rig.buses[bus]!.name
}

function noFailure(expected: string, count: number): Judged {
  return row(expected, count === 0 ? 'none' : String(count), count === 0)
}

/**
 * Does a failure belong to the cause of the expected stop? What the stop's own watch, and others, saw at its place from
 * the cause to standstill does: one broken joint shows in several ways. What comes later is news, whoever says it, and
 * how the stop went never belongs to its cause. A bus that fails takes its joints with it.
 */
function isCause(f: Finding, stop: StopFacts, cause: Nanos, still: number, rig: Rig): boolean {
  const there = f.place === stop.place || busOf(f.place, rig) === stop.place
  if (f.watch === 'stopping' || !there || f.t < cause) return false
  // What the bus watch counts over the whole run it tells at the end, and asks for no stop.
  if (f.watch === 'bus' && f.stop === null) return true
  return f.t <= stop.t + nanos(still) && (f.place !== '' || f.watch === stop.source)
}

/** Name of the bus that a joint is on; undefined when the place is no joint. */
function busOf(place: string, rig: Rig): string | undefined {
  const joint = rig.joints.find(({ name }) => name === place)
  return joint && rig.buses[joint.wire.bus]!.name
}

/** Says a stop in few words. */
export function told(facts: Pick<RunFacts, 'zero'>, { source, place, t, category }: StopFacts): string {
  return `a ${category === 2 ? 'held stop' : 'stop'} by ${source}${place === '' ? '' : ` at ${place}`} at ${inScenario(facts, t)}`
}

/** A time as people read it: of the scenario, or of the run when the scenario had not begun. */
export function inScenario({ zero }: Pick<RunFacts, 'zero'>, t: Nanos): string {
  if (zero !== null && t >= zero) return `${((t - zero) / 1e9).toFixed(3)} s`
  return `${(t / 1e9).toFixed(3)} s of the run, before the scenario began`
}

/** Honest about joints that nobody saw: `, port.elbow not seen`. */
export function butUnseen({ unseen, rig }: Pick<RunFacts, 'unseen' | 'rig'>): string {
  if (unseen.length === 0) return ''
  const whole = rig.buses.filter(({ index }) => {
    const joints = rig.joints.filter((j) => j.wire.bus === index)
    return joints.length > 1 && joints.every((j) => unseen.includes(j.name))
  })
  const single = unseen.filter((name) => !whole.some((bus) => busOf(name, rig) === bus.name))
  return `, ${[...whole.map((bus) => `all of ${bus.name}`), ...single].join(', ')} not seen`
}

function lateness(delay: number): string {
  return delay < 0 ? `${showQuantity(-delay, 's')} before it` : `after ${showQuantity(delay, 's')}`
}

function halfPeriod(rig: Rig): Nanos {
  return nanos(rig.control.period / 2)
}
