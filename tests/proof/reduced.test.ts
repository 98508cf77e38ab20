/**
 * The proof in small: for each watch an entry that it should catch, on one seed; and some clean runs. The whole of it is
 * `npm run proof`.
 */
import { describe, expect, it } from 'vitest'
import { createWatches } from '../../src/watch/all.js'
import { BLIND, TOLD_ALWAYS } from './blind.js'
import { LEAST_MOTION, LEAST_STROKES, LEAST_TIME } from './clean.js'
import { type Job, keyOf, runOf, type Tried, twinOf } from './jobs.js'
import { answersOf, type Cell, type Matrix, matrixOf } from './matrix.js'
import { proofHtml } from './page.js'
import { type ProofRig, proofRig } from './rigs.js'
import type { Row } from './rows.js'
import { runOnce } from './run.js'
import { scripted } from './scripts.js'
import { matrixText } from './text.js'

const root = new URL('../..', import.meta.url).pathname
const rig = proofRig(root, 'skiff')
type WatchName = ReturnType<typeof createWatches>['list'][number]['name']

/** The first clean run of the tuning set that is drawn afloat. */
const AFLOAT_SEED = 5
const extent = { set: 'tuning', clean: 3, seeds: 1 } as const
const rows = new Map<string, Row>()

function rowOf(job: Job): Row {
  const key = keyOf(job)
  const row = rows.get(key) ?? { key, ...runOnce(runOf(job, root)) }
  rows.set(key, row)
  return row
}

const fault = (name: string): Tried => ({ kind: 'fault', name, level: 'nominal', seed: 1 })
const driver = (name: string): Tried => ({ kind: 'driver', name, level: 'nominal', seed: 1 })
const owner = (name: string): Tried => ({ kind: 'owner', name, level: 'nominal', seed: 1 })

const HOT = fault('hot')

/** What each watch is tried on, and whether it stops the run. `gate` reports without being a watch, and so does `driver` beside one. */
const CAUGHT: readonly (readonly [watch: WatchName | 'gate', job: Tried, stops: boolean])[] = [
  ['limits', fault('trembling'), true],
  ['tracking', fault('weak'), true],
  ['feedback', fault('frozen'), true],
  ['drive', fault('tripped'), true],
  ['load', fault('stiff'), false],
  ['silence', fault('silent'), true],
  ['sense', driver('surge sign'), true],
  ['stroke', driver('stroke too short'), false],
  ['sides', driver('sides drift apart'), false],
  ['clearance', driver('blade line inboard'), true],
  ['stopping', fault('brakeless'), false],
  ['bus', fault('dropped'), false],
  ['timing', fault('stall'), false],
  ['gate', driver('degrees for radians'), true],
  ['driver', driver('gives up'), true],
  ['driver', driver('command delayed'), false],
  ['setpoints', driver('no ramp'), false],
  ['vibration', driver('hum on setpoints'), false],
  ['proof', fault('brakeless, when the stop is proven'), true],
  ['owner', owner('sends on after a stop'), false],
  ['owner', owner('SYNC ceases'), true],
]

/** Watches that no entry waits for, and a row in which each finds something besides the watch that should. */
const BESIDES: readonly (readonly [watch: WatchName, job: Tried])[] = [
  ['reversal', fault('wrapped')],
  ['order', fault('stall')],
  // Shaken harder it is stopped before a half stroke has ended.
  ['smoothness', { ...fault('loose'), level: 'small' }],
]

/** Watches that show it in another way. */
const OTHERWISE: readonly (readonly [watch: WatchName, what: string, test: () => void])[] = [
  [
    'steps',
    'loops that are badly tuned are a warning of clean runs in the matrix, and none without it or with wide thresholds',
    () => {
      // No entry spoils the loops of the drives. These swing: 1.5 Hz, damped by 0.2 of critical.
      const plain = runOf(twinOf(driver('surge sign')), root)
      const servo = { frequency: 1.5, damping: 0.2, feedforward: 0.5 }
      const key = 'clean 1'
      const swinging = { ...plain.rig, simulation: { ...plain.rig.simulation, servo } }
      const scenario = { ...plain.scenario, commands: [], duration: 1 }
      const input = (rig: ProofRig) => {
        const row = { key, ...runOnce({ ...plain, rig, scenario }) }
        return { extent, rig, rows: new Map<string, Row>([[key, row]]), thresholds: '', digest: '' }
      }
      const warned = (m: Matrix): string[] => m.falseAlarms.warnings.map((w) => w.watch)
      const seen = input(swinging)
      expect(warned(matrixOf(seen))).toContain('steps')
      expect(warned(matrixOf({ ...seen, without: 'steps' }))).not.toContain('steps')
      expect(warned(matrixOf(input(BLIND.get('steps')!(swinging))))).not.toContain('steps')
    },
  ],
  [
    'health',
    'a drive that grows hot is stopped before it trips, and only then without its reports',
    () => {
      const row = rowOf(HOT)
      rowOf(twinOf(HOT))
      expect(row.stop?.by).toBe('health')
      const [known, unknown] = [cellOf(matrix(), HOT), cellOf(matrix('health'), HOT)]
      expect(known.count.caught).toBe(1)
      // 2 s until it trips; the warning comes at 80 degC, three fifths of the way from 20 degC to 120.
      expect(known.detected!.most).toBeLessThan(1.5)
      expect(unknown.detected!.most).toBeGreaterThan(1.9)
      const without = runOnce({ ...runOf(HOT, root), without: 'health' })
      expect(without.stop?.by).not.toBe('health')
    },
  ],
  [
    'craft',
    'it finds nothing; a clean run afloat in which nothing shows that the craft moved does not count as one',
    () => {
      const job: Job = { kind: 'clean', seed: AFLOAT_SEED }
      const row = rowOf(job)
      expect(row).toMatchObject({ outcome: 'pass', afloat: true })
      const alone = { ...{ extent: { ...extent, clean: AFLOAT_SEED }, rig }, thresholds: '', digest: '' }
      const of = (row: Row, without?: string) =>
        matrixOf({ ...alone, rows: new Map([[row.key, row]]), ...(without ? { without } : {}) })
      const { way, surge } = row.craft!
      expect(way).toBeGreaterThan(LEAST_MOTION.way)
      expect(of(row).falseAlarms).toMatchObject({
        alarms: [],
        afloat: { runs: 1, way: [way, way], fastest: [Math.abs(surge), Math.abs(surge)] },
      })
      const unseen = of(row, 'craft')
      expect(unseen.falseAlarms.alarms.map((a) => a.says)).toEqual([
        expect.stringContaining('nothing shows that the craft moved'),
      ])
      expect(unseen.falseAlarms.afloat).toEqual({ runs: 1, way: null, fastest: null })
      expect(proofHtml(unseen)).toContain('nothing tells where the craft went')
      const still = of({ ...row, craft: { surge: 0.001, way: 0.01, turn: -0.01 } })
      expect(still.falseAlarms.alarms).toHaveLength(1)
      const turned = of({ ...row, craft: { surge: 0.001, way: 0.01, turn: -0.1 } })
      expect(turned.falseAlarms.alarms).toEqual([])
    },
  ],
]

/** Where all thresholds of a watch are tried, another entry than the first above: this one finds by a threshold. */
const BY_THRESHOLD: Readonly<Record<string, Tried>> = {
  feedback: fault('offset'),
  sense: driver('slow sides'),
  stopping: fault('kicking'),
  driver: driver('command delayed'),
}

/** Of each watch that has thresholds, an entry in which it finds something by one. */
const WIDENED = [
  ...new Map<WatchName, Tried>([
    ...[...BESIDES, ...CAUGHT].flatMap(([watch, job]) =>
      watch === 'gate' || watch === 'drive' ? [] : [[watch, BY_THRESHOLD[watch] ?? job] as const],
    ),
    ['health', HOT],
  ]),
]

const MATRIX = { extent, rig, thresholds: 'thresholds', digest: 'digest' } as const

function matrix(without?: string): Matrix {
  return matrixOf({ ...MATRIX, rows, ...(without === undefined ? {} : { without }) })
}

const cellOf = (m: Matrix, { kind, name, level }: Tried): Cell =>
  m.entries.find((e) => e.kind === kind && e.name === name)!.cells.find((c) => c.level === level)!

describe.each(CAUGHT)('%s', (watch, job, stops) => {
  it('catches its entry in time, and stops the run where it should', () => {
    const row = rowOf(job)
    rowOf(twinOf(job))
    if (stops) expect(row.outcome).toBe('fail')
    const cell = cellOf(matrix(), job)
    expect(cell.count, JSON.stringify(row.findings)).toMatchObject({ caught: 1 })
    expect(cell.detected!.most).toBeLessThanOrEqual(cell.bound)
    if (stops) expect(row.stop?.by).toBe(watch)
  })

  it('is missed in the matrix when its findings are left out', () => {
    rowOf(job)
    rowOf(twinOf(job))
    const cell = cellOf(matrix(watch), job)
    expect(cell.count.caught).toBe(0)
    expect(cell.count.missed + cell.count['by another']).toBe(1)
  })
})

it.each(BESIDES)(
  '%s finds something too, and the matrix says so: not any more once its findings are left out',
  (watch, job) => {
    rowOf(job)
    rowOf(twinOf(job))
    expect(cellOf(matrix(), job).others).toMatchObject({ [watch]: 1 })
    expect(cellOf(matrix(watch), job).others).not.toHaveProperty(watch)
  },
)

it.each(CAUGHT.filter(([watch, , stops]) => stops && watch !== 'gate' && watch !== 'driver'))(
  'a run without %s is another run: it is not stopped then, or by another watch',
  (watch, job) => {
    const without = runOnce({ ...runOf(job, root), without: watch })
    expect(rowOf(job).stop?.by).toBe(watch)
    expect(without.stop?.by).not.toBe(watch)
    expect(without.findings.some((f) => f.watch === watch)).toBe(false)
  },
)

it.each(OTHERWISE)('%s: %s', (_watch, _what, test) => test())

const WATCHES = createWatches(rig, scripted(rig, 'ahead', 1), () => {}).list.map(({ name }) => name)

it('every watch is shown to add to the matrix', () => {
  const shown = new Set<string>([...CAUGHT, ...BESIDES, ...OTHERWISE].map(([watch]) => watch))
  expect(WATCHES.filter((name) => !shown.has(name))).toEqual([])
})

describe('thresholds as wide as they go', () => {
  it('are tried for every watch that finds something by any', () => {
    const tried = new Set<string>([...WIDENED.map(([watch]) => watch), 'steps'])
    // Drives tell by themselves; the craft's watch finds nothing.
    expect(WATCHES.filter((name) => !tried.has(name))).toEqual(['drive', 'craft'])
  })

  it.each(WIDENED)('%s finds nothing then, and the matrix is another one', (watch, job) => {
    rowOf(twinOf(job))
    const finds = ({ findings }: Pick<Row, 'findings'>): boolean => findings.some((f) => f.watch === watch)
    expect(finds(rowOf(job))).toBe(true)
    const run = runOf(job, root)
    const key = keyOf(job)
    const row: Row = { key, ...runOnce({ ...run, rig: BLIND.get(watch)!(run.rig) }) }
    expect(row.outcome, row.sentence).not.toBe('defect')
    expect(row.findings.filter((f) => f.watch === watch && f.severity !== TOLD_ALWAYS[watch])).toEqual([])
    const other = matrixOf({ ...MATRIX, rows: new Map([...rows, [key, row]]) })
    const [before, after] = [cellOf(matrix(), job), cellOf(other, job)]
    expect(after).not.toEqual(before)
  })
})

describe('clean runs', () => {
  it.each([1, 2, 3])('seed %i passes without a failure or a doubt, and is long enough to count', (seed) => {
    const row = rowOf({ kind: 'clean', seed })
    expect(row.outcome, row.sentence).toBe('pass')
    expect(row.findings.filter((f) => f.severity !== 'warning')).toEqual([])
    expect(row.length).toBeGreaterThanOrEqual(LEAST_TIME)
    expect(row.strokes).toBeGreaterThanOrEqual(LEAST_STROKES)
  })

  it('the same seed gives the same row', () => {
    const job: Job = { kind: 'clean', seed: 2 }
    expect({ key: keyOf(job), ...runOnce(runOf(job, root)) }).toEqual(rowOf(job))
  })
})

describe('what is shown', () => {
  it('a false alarm, a missed entry and a defect are told on page and terminal', () => {
    const job = driver('yaw sign')
    const bad = new Map(rows)
    const plain = rowOf({ kind: 'clean', seed: 1 })
    const alarm = {
      watch: 'limits',
      severity: 'failure',
      place: 'port.elbow',
      quantity: 'speed',
      t: 3,
      stops: true,
    } as const
    bad.set('clean 1', { ...plain, outcome: 'fail', sentence: 'Fail: too fast.', findings: [alarm] })
    bad.set(keyOf(job), { ...plain, key: keyOf(job), onset: 3, findings: [] })
    const broken = driver('yaw scaled')
    bad.set(keyOf(broken), { ...plain, key: keyOf(broken), outcome: 'defect', sentence: 'it broke' })
    const m = matrixOf({ extent, rig, rows: bad, thresholds: 'thresholds', digest: 'digest' })
    expect(cellOf(m, job).count.missed).toBe(1)
    expect(cellOf(m, broken).count.defect).toBe(1)
    expect(m.runs.defects).toBe(1)
    expect(m.falseAlarms.alarms.map((a) => a.key)).toEqual(['clean 1'])
    expect(m.aims.every((a) => !a.met)).toBe(true)
    const page = proofHtml(m)
    expect(page).toContain('1 of 1 not found')
    expect(page).toContain('Fail: too fast.')
    expect(page).toContain('a defect of ours')
    const text = matrixText(m)
    expect(text).toMatch(/yaw sign .* 1 missed/)
    expect(text).toMatch(/yaw scaled .* 1 DEFECT/)
    expect(text).toMatch(/false alarms: 1/)
  })

  it('what the same run shows with nothing wrong is not put down to what is wrong', () => {
    const job = driver('yaw sign')
    const twin = twinOf(job)
    const warning = {
      watch: 'sense',
      severity: 'warning',
      place: 'port',
      quantity: 'stroke harmonic',
      t: 9,
      stops: false,
    } as const
    const plain = rowOf({ kind: 'clean', seed: 1 })
    const both = new Map<string, Row>([
      [keyOf(job), { ...plain, key: keyOf(job), onset: 3, findings: [warning] }],
      [keyOf(twin), { ...plain, key: keyOf(twin), findings: [warning] }],
    ])
    const input = { extent, rig, thresholds: 'thresholds', digest: 'digest' }
    expect(cellOf(matrixOf({ ...input, rows: both }), job).count.missed).toBe(1)
    both.delete(keyOf(twin))
    expect(cellOf(matrixOf({ ...input, rows: both }), job).count.caught).toBe(1)
  })

  it('a right answer of several counts, and so does a stop that nothing was found beside', () => {
    const job = fault('queue-full')
    const plain = rowOf({ kind: 'clean', seed: 1 })
    const row = { ...plain, key: keyOf(job), onset: 3, findings: [] }
    const shown = (stop: Row['stop'], expected?: string): Cell => {
      const rows = new Map<string, Row>([[keyOf(job), { ...row, stop }]])
      const m = matrixOf({
        extent,
        rig,
        rows,
        thresholds: '',
        digest: '',
        ...(expected ? { without: expected } : {}),
      })
      return cellOf(m, job)
    }
    expect(shown({ by: 'bus', t: 3, toStill: 0.1 }).count.caught).toBe(1)
    expect(shown({ by: 'bus', t: 3, toStill: 0.1 }, 'bus').count.missed).toBe(1)
    expect(shown({ by: 'bus', t: 2.9, toStill: 0.1 }).count.missed).toBe(1)
    expect(shown({ by: 'gate', t: 3, toStill: 0.1 }).count['by another']).toBe(1)
    expect(answersOf('limits or feedback')).toEqual(['limits', 'feedback'])
    expect(answersOf('none: for this reason or that')).toEqual([])
  })

  it('what is found before the wrong begins is not put down to it', () => {
    const job = driver('yaw sign')
    const early = {
      watch: 'sense',
      severity: 'failure',
      place: 'port',
      quantity: 'way against the command',
      t: 2,
      stops: true,
    } as const
    const row = { ...rowOf({ kind: 'clean', seed: 1 }), key: keyOf(job), onset: 3, findings: [early] }
    const m = matrixOf({ extent, rig, rows: new Map([[keyOf(job), row]]), thresholds: '', digest: '' })
    expect(cellOf(m, job).count.missed).toBe(1)
  })
})
