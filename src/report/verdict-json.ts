/** verdict.json: the same verdict always gives the same bytes, whatever made the object. */
import type { Figure, Finding } from '../files/event.js'
import type { ExpectationRow, StopFacts, Verdict, WatchFigures } from '../verdict/verdict.js'

/** Two-space indent, keys in a fixed order, newline at the end; numbers that are not finite become null. */
export function verdictJson(v: Verdict): string {
  const ordered: Verdict = {
    format: v.format,
    outcome: v.outcome,
    sentence: v.sentence,
    rig: v.rig,
    scenario: v.scenario,
    seed: v.seed,
    length: v.length,
    zero: v.zero,
    ended: v.ended,
    expectations: v.expectations.map(expectation),
    stop: v.stop === null ? null : stop(v.stop),
    findings: v.findings.map(finding),
    moreFindings: v.moreFindings,
    watches: v.watches.map(watch),
    cautions: v.cautions,
  }
  // JSON.stringify writes null for NaN and the infinities (ECMA-262, SerializeJSONProperty).
  return `${JSON.stringify(ordered, null, 2)}\n`
}

function expectation(e: ExpectationRow): ExpectationRow {
  return { expected: e.expected, found: e.found, met: e.met }
}

function stop(s: StopFacts): StopFacts {
  const { source, place, category, t, says, escalation: e, toStill } = s
  const escalation = e && { source: e.source, place: e.place, category: e.category, t: e.t, says: e.says }
  return { source, place, category, t, says, escalation, toStill }
}

function finding(f: Finding): Finding {
  return {
    watch: f.watch,
    severity: f.severity,
    place: f.place,
    t: f.t,
    quantity: f.quantity,
    value: f.value,
    limit: f.limit,
    unit: f.unit,
    says: f.says,
    why: f.why,
    look: f.look,
    stop: f.stop,
  }
}

function watch(w: WatchFigures): WatchFigures {
  return { watch: w.watch, figures: w.figures.map(figure) }
}

function figure(f: Figure): Figure {
  return { place: f.place, name: f.name, value: f.value, unit: f.unit, limit: f.limit }
}
