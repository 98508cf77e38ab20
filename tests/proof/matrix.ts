/** What a proof's rows say, put together: by entry and severity what caught it and when, and what was found where nothing is wrong. */
import type { Severity } from '../../src/files/event.js'
import { LEAST_MOTION, LEAST_STROKES, LEAST_TIME } from './clean.js'
import { LEVELS, type Level } from './driver-entry.js'
import {
  ENTRIES,
  type Extent,
  jobsOf,
  KINDS,
  type Kind,
  keyOf,
  SETS,
  severityOf,
  type Tried,
  twinOf,
} from './jobs.js'
import type { ProofRig } from './rigs.js'
import type { Row } from './rows.js'
import type { Seen } from './run.js'
import { failureRateBound } from './statistics.js'

export const STATUSES = ['caught', 'late', 'by another', 'missed', 'no effect', 'defect'] as const
export type Status = (typeof STATUSES)[number]

/** One entry at one severity, over all seeds. Times in s since the wrong began, lengths in m. */
export interface Cell {
  readonly level: Level
  readonly severity: number
  readonly runs: number
  readonly count: Readonly<Record<Status, number>>
  /** By a watch that should, or by the stop that it is the source of; null: never */
  readonly detected: { readonly median: number; readonly most: number } | null
  readonly bound: number
  /** The strongest that it said. */
  readonly strongest: Severity | null
  /** Other watches that found something of it, and in how many runs. */
  readonly others: Readonly<Record<string, number>>
  /** From the onset to the stop, and from the stop to still; null: no run was stopped */
  readonly stopped: { readonly runs: number; readonly most: number; readonly toStill: number | null } | null
  readonly excursion: number
}

export interface EntryResult {
  readonly kind: Kind
  readonly name: string
  readonly what: string
  readonly unit: string
  /** A watch, several as in `a or b` where each of them names the cause, or `none: ` and why. */
  readonly expected: string
  readonly why: string
  readonly cells: readonly Cell[]
}

export interface Alarm {
  readonly key: string
  readonly says: string
  readonly findings: readonly Seen[]
}

export interface Matrix {
  readonly format: 'drystroke-proof-1'
  readonly set: Extent['set']
  readonly clean: number
  readonly seeds: number
  /** SHA-256 of the thresholds that the watches had, and of all code and files that decide what a run comes to. */
  readonly thresholds: string
  readonly digest: string
  readonly runs: { readonly planned: number; readonly done: number; readonly defects: number }
  readonly entries: readonly EntryResult[]
  readonly falseAlarms: {
    readonly runs: number
    /**
     * Clean runs that did not pass, or whose strokes, time or, afloat, motion of the craft were too few to count; entries' runs with
     * nothing wrong, too.
     */
    readonly alarms: readonly Alarm[]
    /** 0..1: with a confidence of 95 % no more clean runs than this give a false alarm */
    readonly atMost: number
    /** Warnings, which let a run pass: in how many clean runs. */
    readonly warnings: readonly { readonly watch: string; readonly quantity: string; readonly runs: number }[]
    /** Clean runs afloat, and how far and how fast the craft went in them: m, m/s; null: nothing tells. */
    readonly afloat: { readonly runs: number; readonly way: Range | null; readonly fastest: Range | null }
  }
  readonly aims: readonly {
    readonly says: string
    readonly met: boolean
    readonly lacks: readonly string[]
  }[]
}

export type Range = readonly [least: number, most: number]

export interface MatrixInput {
  readonly extent: Extent
  readonly rig: ProofRig
  readonly rows: ReadonlyMap<string, Row>
  readonly thresholds: string
  readonly digest: string
  /** Findings of this watch are left out: what the matrix would be without it. */
  readonly without?: string
}

/** Something is wrong with these: no watch can be expected to say what. */
export const isNone = (expected: string): boolean => expected.startsWith('none')

/** The watches any of which is a right answer. */
export const answersOf = (expected: string): readonly string[] =>
  isNone(expected) ? [] : expected.split(' or ')

export function matrixOf(input: MatrixInput): Matrix {
  const { extent, rig, thresholds, digest } = input
  const rows = input.without === undefined ? input.rows : withoutWatch(input.rows, input.without)
  const jobs = jobsOf(extent)
  const done = jobs.flatMap((job) => rows.get(keyOf(job)) ?? [])
  const entries = KINDS.flatMap((kind) =>
    ENTRIES[kind].map((entry) => {
      if ('target' in entry) return { kind, entry, what: entry.target, unit: 'as the list of faults has it' }
      return { kind, entry, what: entry.what, unit: entry.unit }
    }),
  ).map(({ kind, what, unit, entry }): EntryResult => {
    const { name, expected, why } = entry
    return {
      kind,
      name,
      what,
      unit,
      expected,
      why,
      cells: LEVELS.map((level) => {
        const severity = severityOf(entry, rig, level)
        const bound = entry.detectWithin(rig, severity)
        return cell(kind, entry, level, severity, bound, extent, rows)
      }),
    }
  })
  const falseAlarms = alarmsIn(extent, rows)
  return {
    format: 'drystroke-proof-1',
    ...extent,
    thresholds,
    digest,
    runs: {
      planned: jobs.length,
      done: done.length,
      defects: done.filter((r) => r.outcome === 'defect').length,
    },
    entries,
    falseAlarms,
    aims: aimsOf(entries, falseAlarms, done.length === jobs.length),
  }
}

/** As if that watch had never said anything. Stops stay as they were: what a run would be without them takes a run. */
function withoutWatch(rows: ReadonlyMap<string, Row>, watch: string): ReadonlyMap<string, Row> {
  const left = ([key, row]: [string, Row]): [string, Row] => [
    key,
    {
      ...row,
      findings: row.findings.filter((f) => f.watch !== watch),
      stop: row.stop?.by === watch ? null : row.stop,
      craft: watch === 'craft' ? null : row.craft,
    },
  ]
  return new Map([...rows].map(left))
}

function cell(
  kind: Kind,
  { name, expected }: { name: string; expected: string },
  level: Level,
  severity: number,
  bound: number,
  { set, seeds }: Extent,
  rows: ReadonlyMap<string, Row>,
): Cell {
  const count: Record<Status, number> = {
    caught: 0,
    late: 0,
    'by another': 0,
    missed: 0,
    'no effect': 0,
    defect: 0,
  }
  const answers = answersOf(expected)
  const others: Record<string, number> = {}
  const times: number[] = []
  const stops: { after: number; toStill: number | null }[] = []
  let strongest: Severity | null = null
  let excursion = 0
  let runs = 0
  for (let i = 1; i <= seeds; i++) {
    const job: Tried = { kind, name, level, seed: SETS[set] + i }
    const row = rows.get(keyOf(job))
    if (row === undefined) continue
    runs++
    excursion = Math.max(excursion, row.excursion)
    const twin = rows.get(keyOf(twinOf(job)))
    const found = foundIn(row, twin)
    const own = found.filter((f) => answers.includes(f.watch))
    for (const watch of new Set(found.map((f) => f.watch)))
      if (!answers.includes(watch)) others[watch] = (others[watch] ?? 0) + 1
    for (const f of own) if (strongest === null || RANK[f.severity] > RANK[strongest]) strongest = f.severity
    const { onset, stop } = row
    if (onset !== null && stop !== null && stop.t >= onset - INSTANT)
      stops.push({ after: stop.t - onset, toStill: stop.toStill })
    const first = own.length > 0 ? Math.max(0, own[0]!.t - onset!) : null
    if (first !== null) times.push(first)
    count[statusOf(row, first, bound, found.length > 0)]++
  }
  times.sort((a, b) => a - b)
  return {
    level,
    severity,
    runs,
    count,
    detected: times.length === 0 ? null : { median: middle(times), most: times.at(-1)! },
    bound,
    strongest,
    others,
    stopped:
      stops.length === 0
        ? null
        : {
            runs: stops.length,
            most: Math.max(...stops.map((s) => s.after)),
            toStill: greatest(stops.map((s) => s.toStill)),
          },
    excursion,
  }
}

const RANK: Readonly<Record<Severity, number>> = { warning: 0, doubt: 1, failure: 2 }
/** s, rounding */
const INSTANT = 1e-9

/** What was found from the onset on and is not found in the same run with nothing wrong, in order of time. */
function foundIn(row: Row, twin: Row | undefined): Seen[] {
  const { onset } = row
  if (onset === null) return []
  const known = new Set(saidIn(twin).map(sameThing))
  return saidIn(row)
    .filter((f) => f.t >= onset - INSTANT && !known.has(sameThing(f)))
    .toSorted((a, b) => a.t - b.t)
}

/** What was found, and what stopped the run: a bus that refuses a frame, or a driver that does not park, tells by that alone. */
function saidIn(row: Row | undefined): readonly Seen[] {
  if (row === undefined) return []
  const { findings, stop } = row
  if (stop === null || findings.some((f) => f.watch === stop.by && f.t <= stop.t)) return findings
  return [
    ...findings,
    { watch: stop.by, severity: 'failure', place: '', quantity: 'stop', t: stop.t, stops: true },
  ]
}

const sameThing = ({ watch, place, quantity }: Seen): string => `${watch}|${place}|${quantity}`

function statusOf(row: Row, first: number | null, bound: number, found: boolean): Status {
  if (row.outcome === 'defect') return 'defect'
  if (row.onset === null) return 'no effect'
  if (first !== null) return first <= bound + INSTANT ? 'caught' : 'late'
  return found ? 'by another' : 'missed'
}

function middle(sorted: readonly number[]): number {
  const half = sorted.length / 2
  return Number.isInteger(half) ? (sorted[half - 1]! + sorted[half]!) / 2 : sorted[Math.floor(half)]!
}

function greatest(values: readonly (number | null)[]): number | null {
  const known = values.filter((v) => v !== null)
  return known.length === 0 ? null : Math.max(...known)
}

function alarmsIn(extent: Extent, rows: ReadonlyMap<string, Row>): Matrix['falseAlarms'] {
  const clean = jobsOf(extent).flatMap((job) => {
    const row = job.kind === 'clean' || job.kind === 'twin' ? rows.get(keyOf(job)) : undefined
    return row === undefined ? [] : [{ row, counts: job.kind === 'clean' }]
  })
  const warnings = new Map<string, { watch: string; quantity: string; runs: number }>()
  for (const { row } of clean) {
    const seen = new Set<string>()
    for (const { watch, quantity, severity } of row.findings) {
      const key = `${watch}|${quantity}`
      if (severity !== 'warning' || seen.has(key)) continue
      seen.add(key)
      const known = warnings.get(key) ?? { watch, quantity, runs: 0 }
      known.runs++
      warnings.set(key, known)
    }
  }
  const alarms = clean.flatMap(({ row, counts }): Alarm[] => {
    const findings = row.findings.filter((f) => f.severity !== 'warning')
    if (row.outcome !== 'pass' || findings.length > 0) return [{ key: row.key, says: row.sentence, findings }]
    const lacks = counts ? lackOf(row) : null
    return lacks === null ? [] : [{ key: row.key, says: `it is no clean run: ${lacks}`, findings }]
  })
  const afloat = clean.flatMap(({ row, counts }) => (counts && row.afloat ? [row.craft] : []))
  const ways = afloat.filter((craft) => craft !== null)
  const runs = clean.filter((c) => c.counts).length
  return {
    runs,
    alarms,
    atMost: failureRateBound(alarms.length, runs),
    warnings: [...warnings.values()].toSorted((a, b) => b.runs - a.runs || (a.watch < b.watch ? -1 : 1)),
    afloat: {
      runs: afloat.length,
      way: rangeOf(ways.map((craft) => craft.way)),
      fastest: rangeOf(ways.map((craft) => Math.abs(craft.surge))),
    },
  }
}

/** What a clean run lacks to count as one; null: nothing. */
function lackOf({ strokes, length, afloat, craft }: Row): string | null {
  if (strokes < LEAST_STROKES || length < LEAST_TIME) return `${strokes} strokes in ${length} s`
  if (!afloat) return null
  const { surge, way, turn } = craft ?? { surge: 0, way: 0, turn: 0 }
  const moved =
    Math.abs(surge) >= LEAST_MOTION.surge || way >= LEAST_MOTION.way || Math.abs(turn) >= LEAST_MOTION.turn
  return moved ? null : 'afloat, and nothing shows that the craft moved'
}

const rangeOf = (values: readonly number[]): Range | null =>
  values.length === 0 ? null : [Math.min(...values), Math.max(...values)]

function aimsOf(
  entries: readonly EntryResult[],
  { runs, alarms, atMost }: Matrix['falseAlarms'],
  whole: boolean,
): Matrix['aims'] {
  const due = entries.filter((e) => !isNone(e.expected))
  const nominal = due.map((e) => ({ name: `${e.kind} ${e.name}`, cell: e.cells[1]! }))
  const lacking = (lacks: (c: Cell) => boolean): string[] =>
    nominal.flatMap(({ name, cell: c }) => (lacks(c) ? [name] : []))
  const uncaught = lacking((c) => c.runs === 0 || c.count.caught + c.count.late < c.runs)
  const late = lacking((c) => c.count.late > 0)
  const percent = (100 * atMost).toFixed(2)
  const aim = (says: string, lacks: readonly string[]) => ({ says, met: whole && lacks.length === 0, lacks })
  return [
    aim('every entry is caught at its nominal severity by the watch that should', uncaught),
    aim('no detection at nominal severity is later than its bound', late),
    aim(
      `no false alarm in ${runs} clean runs: at most ${percent} % at a confidence of 95 %`,
      alarms.map((a) => a.key),
    ),
  ]
}
