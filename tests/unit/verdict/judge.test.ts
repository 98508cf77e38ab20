import { describe, expect, it } from 'vitest'
import type { Finding } from '../../../src/files/event.js'
import type { Joint } from '../../../src/files/rig.js'
import type { ExpectStop, Scenario } from '../../../src/files/scenario.js'
import { Judge, type Judgement } from '../../../src/verdict/judge.js'
import { emergencyFrame } from '../../../src/wire/cia402/network.js'
import { feedbackFrame } from '../../../src/wire/cia402/process.js'
import { toCounts } from '../../../src/wire/cia402/scale.js'
import { PERIOD, rig as rigOf, scenario } from '../watch/rig.js'
import { NS, PaperBench, type Path } from './paper-bench.js'

/** The strokes of these tests are quick, and lift their blades in jerks: limits that do not mind. */
const anyhow = { arc: -100, jerk: -100 }
const rig = rigOf({
  limits: { speed: 100, acceleration: 1e5 },
  watch: {
    smoothness: { joint: anyhow, blade: anyhow },
    // What is told on paper is done at once, to the last count, and the blades wait before each stroke; one joint has no part in it.
    feedback: { echo: 1000, leap: 100 },
    setpoints: { still: '10 m', rise: '0.01 ms', silent: '10 s', idle: 1000 },
  },
})
const LIFT = 1.2
const FEATHER = 2 // port.feather
const PITCH = 4 // starboard.pitch
/** Blades out of the water. */
const raised: Path = (j) => (j % 3 === 0 ? LIFT : 0)
/** From time `from` on strokes ahead of two seconds each, beginning and ending in the middle of a recovery. */
const paddling =
  (from: number): Path =>
  (j, s) => {
    const phase = (((s - from) % 2) + 2) % 2
    const drive = phase > 0.5 && phase < 1.5
    if (j % 3 === 0)
      return drive ? 0 : LIFT * Math.min(1, 8 * Math.abs(phase < 1 ? 0.5 - phase : phase - 1.5))
    return j % 3 === 1 ? -0.3 * Math.sin(Math.PI * phase) : 0
  }

const finish = (changes: Partial<Scenario> = {}): Scenario =>
  scenario({
    duration: 7,
    expect: {
      outcome: 'finish',
      strokes: [
        { arm: 0, direction: 'ahead', least: 3 },
        { arm: 1, direction: 'ahead', least: 3 },
      ],
      parked: true,
    },
    ...changes,
  })
const stopBy = (by: string, joint: number | null, changes: Partial<ExpectStop> = {}): Scenario =>
  scenario({
    duration: 4,
    expect: {
      outcome: 'stop',
      by,
      category: null,
      joint,
      bus: null,
      after: 1,
      within: 0.05,
      still: 0.5,
      noMotion: true,
      ...changes,
    },
  })

/** A good run of seven seconds: three strokes, parked. */
function played(expected = finish(), whole = true): PaperBench {
  const bench = new PaperBench(rig, expected)
  bench.path = raised
  // As fast as the blades of this paper arm go on the even part of their drive.
  bench.ready().event({ kind: 'command', t: bench.t, surge: 0.715, yaw: 0 }).cycles(200)
  bench.path = paddling(bench.k * PERIOD)
  bench.cycles(whole ? 1200 : 500)
  return whole ? bench.stage('park').cycles(20).stage('disable') : bench
}

/** To the cause at one second of the scenario. */
function upToCause(expected: Scenario): PaperBench {
  const bench = new PaperBench(rig, expected)
  bench.path = raised
  return bench.ready().cycles(200)
}

/** From the stop to the scenario's end. */
function seenThrough(bench: PaperBench, silent: readonly number[] = []): Judgement {
  const end = 80 + 800
  return bench
    .drives('switch on disabled')
    .cycles(60, { silent })
    .stage('stopped')
    .cycles(end - bench.k, { silent })
    .end()
}

const bytes = (j: Judgement): string => JSON.stringify(j)
const unmet = ({ verdict }: Judgement): string[] =>
  verdict.expectations.filter((e) => !e.met).map((e) => e.expected)

describe('judge, of a run that is to finish', () => {
  it('passes a good one', () => {
    const judgement = played().end()
    const { verdict, stages, trace } = judgement
    expect(verdict.sentence).toBe('Pass: the scenario played its 7 s without a stop or a failure.')
    expect(verdict).toMatchObject({
      format: 'drystroke-verdict-1',
      outcome: 'pass',
      rig: 'test-rig',
      scenario: 'test-scenario',
      seed: 7,
      zero: 80 * NS,
      length: 1500 * NS,
      ended: 'completed',
      stop: null,
      findings: [],
      moreFindings: 0,
    })
    expect(unmet(judgement)).toEqual([])
    expect(verdict.watches.map((w) => w.watch)).toEqual([
      'feedback',
      'limits',
      'tracking',
      'silence',
      'sense',
      'stroke',
      'sides',
      'reversal',
      'steps',
      'setpoints',
      'clearance',
      'stopping',
      'bus',
      'drive',
      'smoothness',
      'vibration',
      'order',
      'proof',
    ])
    expect(verdict.cautions[0]).toBe('Drystroke is not a safety device.')
    expect(stages.map((s) => s.stage)).toEqual([
      'setup',
      'seed',
      'enable',
      'approach',
      'play',
      'park',
      'disable',
    ])
    expect(stages[4]!.t).toBe(80 * NS)
    expect(trace.feedback).toHaveLength(6)
  })

  it('fails too few strokes, and blades in the water', () => {
    const expected = finish({
      expect: { outcome: 'finish', strokes: [{ arm: 1, direction: 'astern', least: 1 }], parked: true },
    })
    const bench = played(expected)
    bench.path = () => 0
    const judgement = bench.cycles(5).end()
    expect(judgement.verdict.outcome).toBe('fail')
    expect(unmet(judgement)).toEqual([
      'starboard: at least 1 strokes astern',
      'all blades are out of the water at the end',
    ])
    expect(judgement.verdict.sentence).toBe('Fail: expected starboard: at least 1 strokes astern; found: 0.')
  })

  it('fails on one feedback frame beyond a limit, and names joint, time and limit', () => {
    const bench = played(finish(), false)
    bench.obeys = false
    const { wire } = rig.joints[PITCH]!
    const since = bench.t
    bench.cycles(1, { feedback: (j, s) => (j === PITCH ? 1.51 : bench.path(j, s)) }).cycles(699)
    const judgement = bench.stage('park').cycles(20).end()
    const { verdict } = judgement
    expect(verdict.outcome).toBe('fail')
    expect(unmet(judgement)).toEqual(['no failure'])
    expect(verdict.findings[0]).toMatchObject({
      watch: 'limits',
      place: 'starboard.pitch',
      quantity: 'position',
      t: since + 500_000,
      limit: 1.5,
    })
    expect(verdict.sentence).toMatch(
      /^Fail: starboard\.pitch at 3\.5\d\d s: The position went beyond its limit \(position 86\.5 deg, limit 85\.9 deg\)\.$/,
    )
    expect(toCounts(wire, 1.51)).not.toBe(toCounts(wire, 1.5))
  })

  it('fails when it was stopped, whoever did it', () => {
    const judgement = played(finish(), false)
      .stop('operator')
      .drives('switch on disabled')
      .cycles(600)
      .end('stopped')
    expect(judgement.verdict.outcome).toBe('fail')
    expect(unmet(judgement)).toContain('no stop')
    expect(judgement.verdict.stop).toMatchObject({ source: 'operator', place: '', category: 1, t: 780 * NS })
  })

  it('is incomplete without an end, and still fails if it had failed', () => {
    const cut = played(finish(), false).judge.close().verdict
    expect(cut).toMatchObject({ outcome: 'incomplete', ended: 'cut short' })
    expect(cut.sentence).toMatch(/^Incomplete: the run was cut short at 3\.49\d s/)
    const failed = played(finish(), false)
    failed.obeys = false
    failed.cycles(20, { silent: [FEATHER] })
    expect(failed.judge.close().verdict).toMatchObject({ outcome: 'fail', ended: 'cut short' })
  })

  it('is incomplete when a signal ended it', () => {
    const { verdict } = played(finish(), false)
      .stop('signal')
      .drives('switch on disabled')
      .cycles(600)
      .end('signal')
    expect(verdict).toMatchObject({ outcome: 'incomplete', ended: 'signal' })
    expect(verdict.sentence).toMatch(/^Incomplete: a signal stopped the run/)
  })

  it('is incomplete with a doubt, but no doubt betters a failure', () => {
    const coarse = rigOf({ limits: { speed: 100, acceleration: 5 }, counts: 3000 / (2 * Math.PI), noise: 0 })
    const still = finish({ duration: 1, expect: { outcome: 'finish', strokes: [], parked: true } })
    const run = (): PaperBench => {
      const bench = new PaperBench(coarse, still)
      bench.path = raised
      return bench.ready().cycles(200).stage('park').cycles(10)
    }
    expect(run().end().verdict).toMatchObject({
      outcome: 'incomplete',
      sentence: expect.stringMatching(/noise/),
    })
    const bench = run().event({
      kind: 'driver',
      t: 1e9,
      code: 'unreachable',
      place: 'port',
      says: 'phase 0.2',
    })
    expect(bench.end().verdict.outcome).toBe('fail')
  })

  it.each([
    [
      { kind: 'gate', t: 2e9, place: 'port.roll', quantity: 'step', value: 2, limit: 1, unit: 'rad' },
      'gate',
      'step',
    ],
    [
      { kind: 'driver', t: 2e9, code: 'unreachable', place: 'port', says: 'at phase 0.3' },
      'driver',
      'unreachable',
    ],
    [
      {
        kind: 'refusal',
        t: 2e9,
        place: 'port.roll',
        says: 'does not report',
        expected: 'boot-up',
        found: 'nothing',
      },
      'drive',
      'set-up',
    ],
  ] as const)('fails on what others report: %s', (event, watch, quantity) => {
    const { verdict } = played().event(event).end()
    expect(verdict.outcome).toBe('fail')
    expect(verdict.findings).toEqual([
      expect.objectContaining({ watch, quantity, place: event.place, severity: 'failure', stop: null }),
    ])
  })
})

describe('judge, of a run that is to be stopped', () => {
  it('passes the right stop in time', () => {
    const bench = upToCause(stopBy('silence', FEATHER)).cycles(10, { silent: [FEATHER] })
    const judgement = seenThrough(bench, [FEATHER])
    const { verdict } = judgement
    expect(unmet(judgement)).toEqual([])
    expect(verdict.sentence).toBe(
      'Pass: a stop by silence at port.feather at 1.015 s was expected; every other joint was still 0 ms later, port.feather not seen.',
    )
    expect(verdict.stop).toMatchObject({ source: 'silence', place: 'port.feather', toStill: 0 })
    expect(verdict.expectations.map((e) => e.found)).toEqual([
      'a stop by silence at port.feather at 1.015 s',
      'after 15 ms',
      'after 0 ms, port.feather not seen',
      'none',
      'none',
    ])
  })

  it('passes an operator stop with release and reset and without motion', () => {
    const bench = upToCause(stopBy('operator', null))
      .stop('operator')
      .drives('switch on disabled')
      .cycles(200)
    bench.event({ kind: 'release', t: bench.t }).event({ kind: 'reset', t: bench.t })
    expect(seenThrough(bench).verdict.outcome).toBe('pass')
  })

  it('fails when nothing happens', () => {
    const judgement = upToCause(stopBy('silence', FEATHER)).cycles(600).stage('park').cycles(10).end()
    expect(judgement.verdict.outcome).toBe('fail')
    expect(judgement.verdict.sentence).toBe('Fail: expected a stop by silence at port.feather; found: none.')
  })

  it.each([
    ['another source', 'tracking', FEATHER],
    ['another joint', 'silence', PITCH],
  ])('fails a stop for another reason: %s', (_, by, joint) => {
    const bench = upToCause(stopBy(by, joint)).cycles(10, { silent: [FEATHER] })
    const judgement = seenThrough(bench, [FEATHER])
    expect(judgement.verdict.outcome).toBe('fail')
    expect(unmet(judgement)[0]).toMatch(/^a stop by/)
    expect(judgement.verdict.sentence).toMatch(/port\.feather/)
  })

  it('fails a stop that comes too late, or before its cause', () => {
    const late = upToCause(stopBy('operator', null)).cycles(11).stop('operator')
    expect(unmet(seenThrough(late))).toEqual(['within 50 ms of 1 s'])
    const inTime = upToCause(stopBy('operator', null)).cycles(10).stop('operator')
    expect(unmet(seenThrough(inTime))).toEqual([])
    const early = new PaperBench(rig, stopBy('operator', null))
    early.path = raised
    const judgement = seenThrough(early.ready().cycles(190).stop('operator'))
    expect(judgement.verdict.outcome).toBe('fail')
    expect(judgement.verdict.sentence).toContain('50 ms before it')
  })

  it('fails another joint that breaks as well', () => {
    const bench = upToCause(stopBy('silence', FEATHER)).cycles(10, { silent: [FEATHER] })
    bench.cycles(1, { silent: [FEATHER], feedback: (j, s) => (j === PITCH ? 1.6 : raised(j, s)) })
    const { verdict } = seenThrough(bench, [FEATHER])
    expect(verdict.outcome).toBe('fail')
    expect(verdict.sentence).toMatch(/^Fail: starboard\.pitch/)
  })

  it('takes what else the broken joint shows for the same cause', () => {
    // An encoder that jumps: limits first, then the eye and the following error as well.
    const expected = stopBy('limits', FEATHER, { noMotion: false })
    const bench = upToCause(expected)
    const jumped: Path = (j, s) => raised(j, s) + (j === FEATHER ? 1.6 : 0)
    const { verdict } = seenThrough(bench.cycles(2, { feedback: jumped }))
    const found = new Set(verdict.findings.map((f) => `${f.watch} ${f.place}`))
    expect([...found]).toEqual(['limits port.feather', 'sense port.feather'])
    expect(verdict.outcome).toBe('pass')
  })

  it('takes lost frames of the broken joint for the same cause, but not those of another', () => {
    const run = (joint: number) => {
      const bench = upToCause(stopBy('silence', FEATHER, { within: 2 }))
      for (let k = 0; k < 149; k++) bench.cycles(1, { silent: k % 3 === 0 ? [joint] : [] })
      return seenThrough(bench.cycles(4, { silent: [FEATHER] }), [FEATHER]).verdict
    }
    const same = run(FEATHER)
    expect(same.findings.map((f) => `${f.watch} ${f.quantity}`)).toContain('bus feedback lost')
    expect(same.outcome).toBe('pass')
    expect(run(PITCH)).toMatchObject({ outcome: 'fail', sentence: expect.stringMatching(/starboard\.pitch/) })
  })

  it("excuses what the stop's own watch says at its place only until the stop should be over", () => {
    const late = (cyclesAfter: number) => {
      const bench = upToCause(stopBy('drive', FEATHER, { noMotion: false }))
      bench.frame(0, emergencyFrame(13, 0x2310, 1), bench.t, false)
      bench.drives('switch on disabled').cycles(cyclesAfter)
      bench.frame(0, emergencyFrame(13, 0x7300, 1), bench.t, false)
      return seenThrough(bench).verdict
    }
    expect(late(60).outcome).toBe('pass')
    expect(late(120)).toMatchObject({ outcome: 'fail', sentence: expect.stringMatching(/7300h/) })
  })

  it('never excuses how the stop went: sag of the broken joint fails', () => {
    const bench = upToCause(stopBy('limits', FEATHER, { noMotion: false }))
    const jumped: Path = (j, s) => raised(j, s) + (j === FEATHER ? 1.6 : 0)
    bench.cycles(1, { feedback: jumped }).drives('switch on disabled').cycles(40)
    bench.path = (j, s) => raised(j, s) + (j === FEATHER ? 0.03 : 0)
    const { verdict } = seenThrough(bench.cycles(5))
    expect(verdict.findings.find((f) => f.watch === 'stopping')).toMatchObject({
      place: 'port.feather',
      quantity: 'sag',
    })
    expect(verdict.outcome).toBe('fail')
  })

  it('fails motion after the stop, also of the broken joint', () => {
    const bench = upToCause(stopBy('silence', FEATHER)).cycles(4, { silent: [FEATHER] })
    bench.drives('switch on disabled').cycles(450)
    bench.path = (j, s) => raised(j, s) + (j === FEATHER ? 0.1 : 0)
    const judgement = seenThrough(bench)
    expect(judgement.verdict.outcome).toBe('fail')
    expect(unmet(judgement)).toContain('no motion after that, to the end of the scenario')
  })

  it('fails a stop that does not come to rest in time, and one that takes longer than expected', () => {
    const creeping: Path = (j, s) => raised(j, s) + (j === PITCH ? 0.05 * (s - 1.4) : 0)
    const bench = upToCause(stopBy('operator', null, { noMotion: false })).stop('operator')
    bench.path = creeping
    const never = seenThrough(bench)
    expect(never.verdict.outcome).toBe('fail')
    // It moves although its drive has let go of it: that is told before the time is over.
    expect(never.verdict.findings.map((f) => `${f.place}: ${f.says}`)).toEqual([
      'starboard.pitch: The joint sagged after the stop.',
      'starboard.pitch: The joint was not still in time after the stop.',
    ])

    const slow = upToCause(stopBy('operator', null, { still: 0.2 }))
    const from = slow.stop('operator').k * PERIOD
    slow.path = (j, s) => raised(j, s) + (j === PITCH ? 0.05 * Math.min(0.3, Math.max(0, s - from)) : 0)
    const judgement = seenThrough(slow)
    expect(unmet(judgement)).toEqual(['still within 200 ms of the stop'])
    expect(judgement.verdict.outcome).toBe('fail')
  })

  it('fails a second stop', () => {
    const bench = upToCause(stopBy('operator', null))
      .stop('operator')
      .drives('switch on disabled')
      .cycles(100)
    bench.event({ kind: 'stop', t: bench.t, source: 'bus', place: 'port-can', category: 1, says: '' })
    expect(unmet(seenThrough(bench))).toContain('no other failure and no other stop')
  })

  it('is incomplete when the stop was not seen to its end', () => {
    const lost = upToCause(stopBy('operator', null)).stop('operator').drives('switch on disabled').cycles(10)
    expect(seenThrough(lost, [PITCH]).verdict).toMatchObject({
      outcome: 'incomplete',
      sentence: expect.stringMatching(/starboard\.pitch .*feedback of this joint was lost after the stop/),
    })
    const ended = upToCause(stopBy('operator', null, { noMotion: false }))
      .stop('operator')
      .drives('switch on disabled')
    const { verdict } = ended.cycles(100).end()
    expect(verdict).toMatchObject({ outcome: 'incomplete', ended: 'completed' })
    expect(verdict.sentence).toMatch(/before the sag of this joint was measured/)
    const cut = upToCause(stopBy('operator', null)).stop('operator').cycles(10)
    expect(cut.judge.close().verdict).toMatchObject({ outcome: 'incomplete', ended: 'cut short' })
  })
})

describe('judge, as a fold', () => {
  const broken = (): PaperBench => upToCause(stopBy('silence', FEATHER)).cycles(10, { silent: [FEATHER] })

  it('gives the same bytes for the same input', () => {
    const online = broken()
    const judgement = seenThrough(online, [FEATHER])
    const offline = online.replay(new Judge(rig, stopBy('silence', FEATHER)))
    expect(bytes(offline)).toBe(bytes(judgement))
    expect(judgement.verdict.findings.length).toBeGreaterThan(0)
  })

  it('gives no heed to recorded findings', () => {
    const online = broken()
    const judgement = seenThrough(online, [FEATHER])
    const found = judgement.verdict.findings[0]!
    const judge = new Judge(rig, stopBy('silence', FEATHER))
    for (const [i, entry] of online.log.entries()) {
      if (i % 500 === 499) judge.event({ kind: 'finding', ...found, t: 1e15, place: 'port.roll' })
      entry(judge)
    }
    expect(bytes(judge.close())).toBe(bytes(judgement))
  })

  it('lets what is handed in from inside a finding wait its turn', () => {
    // Latches the stop inside onFinding, in the middle of a frame.
    const log: ((j: Judge) => void)[] = []
    const seen: Finding[] = []
    let t = 0
    const inside: Judge = new Judge(rig, stopBy('limits', PITCH), {
      onFinding: (f) => {
        seen.push(f)
        if (f.stop === null || seen.length > 1) return
        tell((j) => j.event({ kind: 'stop', t, source: f.watch, place: f.place, category: 1, says: f.says }))
        tell((j) => j.event({ kind: 'stage', t, stage: 'stopping' }))
      },
    })
    const tell = (entry: (j: Judge) => void): void => {
      log.push(entry)
      entry(inside)
    }
    const bench = upToCause(stopBy('limits', PITCH))
    for (const entry of bench.log) tell(entry)
    t = bench.t
    const { wire } = rig.joints[PITCH]!
    // The same frame says that the position is beyond its limit and that the drive has left operation.
    const bad = feedbackFrame(0x180 + wire.node, 0x40, toCounts(wire, 1.6), 0)
    tell((j) => j.frame(wire.bus, bad, t, false))
    tell((j) => j.event({ kind: 'end', t, reason: 'stopped' }))
    const replayed = new Judge(rig, stopBy('limits', PITCH))
    for (const entry of log) entry(replayed)
    const judgement = inside.close()
    expect(judgement.verdict.findings.map((f) => f.watch)).toContain('drive')
    expect(bytes(judgement)).toBe(bytes(replayed.close()))
  })

  it('keeps 200 findings and counts the rest, which still fail the run', () => {
    const bench = played()
    for (let i = 0; i < 250; i++) {
      bench.event({
        kind: 'gate',
        t: bench.t + i,
        place: 'port.roll',
        quantity: 'step',
        value: 2,
        limit: 1,
        unit: 'rad',
      })
    }
    const { verdict } = bench.end()
    expect(verdict.findings).toHaveLength(200)
    expect(verdict.moreFindings).toBe(50)
    expect(verdict.outcome).toBe('fail')
    expect(verdict.expectations.find((e) => e.expected === 'no failure')!.found).toBe('250')
  })

  it('never lets warnings take the room of a failure', () => {
    // Thirty more joints, whose drives send eight emergency messages each while they are set up.
    const more = Array.from({ length: 30 }, (_, i): Joint => {
      const wire = { ...rig.joints[0]!.wire, node: 20 + i }
      return { ...rig.joints[0]!, index: 6 + i, name: `port.extra-${i}`, wire }
    })
    const bench = new PaperBench({ ...rig, joints: [...rig.joints, ...more] }, finish())
    bench.stage('setup')
    for (const { wire } of more) {
      for (let code = 1; code <= 8; code++) bench.frame(0, emergencyFrame(wire.node, code, 1), 0, false)
    }
    bench.event({ kind: 'driver', t: 1, code: 'unreachable', place: 'port', says: 'at phase 0.3' })
    const { verdict } = bench.end()
    expect(verdict.findings.filter((f) => f.severity === 'warning')).toHaveLength(150)
    expect(verdict.findings.at(-1)).toMatchObject({ watch: 'driver', severity: 'failure' })
    expect(verdict.moreFindings).toBe(90)
  })

  it('has something to say of nothing at all', () => {
    const { verdict, trace } = new Judge(rig, finish()).close()
    expect(verdict).toMatchObject({ outcome: 'incomplete', ended: 'cut short', length: 0, zero: null })
    expect(trace.bins).toBe(0)
  })
})
