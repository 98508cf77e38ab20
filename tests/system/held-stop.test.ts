/**
 * Category 2 (IEC 60204-1, 9.2.2: controlled stop, power kept): slowed by setpoints and held, for watches alone; an
 * emergency source, or whatever keeps the arms from being held, makes it a category 1 stop. Nothing resumes by itself.
 */
import { describe, expect, it } from 'vitest'
import { nanos } from '../../src/clock.js'
import type { Frame } from '../../src/wire/frame.js'
import { JudgedBench } from '../setup/judged-bench.js'
import { change, DEMO_RIG, play, scenarioText, temporaryFolder } from '../setup/runs.js'

const DEG = Math.PI / 180
const FEEDBACK_OF_ELBOW = 0x180 + 13
const QUICK_STOP = 2
const DISABLE_VOLTAGE = 0
const SHUTDOWN = 6

/** Ahead at 0.3 m/s, the operator's actions as `6 s: stop`. */
function scenario(...actions: string[]): string {
  const operator = actions.map((action) => {
    const [at, what] = action.split(': ')
    return `  - { at: "${at}", do: ${what} }\n`
  })
  return `name: held
about: For a test.
duration: "14 s"
commands:
  - { at: "1 s", surge: "0.3 m/s", yaw: "0 deg/s", over: "0.5 s" }
  - { at: "13 s", surge: "0.2 m/s", yaw: "0 deg/s", over: "0.5 s" }
${actions.length === 0 ? '' : `operator:\n${operator.join('')}`}expect:
  { outcome: stop, by: sense, category: 2, after: "5 s", within: "1 s", still: "500 ms", no-motion: true }
`
}

/** A bench in full stroke that a watch asks to hold. */
function held(text = scenario(), rig = DEMO_RIG): JudgedBench {
  const run = new JudgedBench(rig, text)
  run.until(() => (run.bench.scenarioTime ?? 0) > 5.2)
  run.hold()
  return run
}

describe('a held stop', () => {
  it('slows all joints by setpoints inside their limits, then sends the same setpoints on and on, without a controlword', () => {
    const run = held()
    const before = run.speeds()
    expect(Math.max(...before.map(Math.abs))).toBeGreaterThan(20 * DEG)
    run.forget()
    run.until(() => run.bench.stage === 'stopped')
    // Without the gate's consent no setpoint leaves: that there is none held back is that all were inside the limits.
    expect(run.events.filter((e) => e.kind === 'gate')).toEqual([])
    expect(run.events).toContainEqual(expect.objectContaining({ kind: 'stop', category: 2, source: 'sense' }))
    const from = run.setpoints.length
    run.until(() => run.inStage() > 1)
    const last = run.setpoints.slice(from)
    expect(last.length).toBeGreaterThan(150)
    expect(new Set(last.map((row) => row.join())).size).toBe(1)
    expect(run.controlwords).toEqual([])
    expect(run.farthest(() => run.until(() => run.inStage() > 1.5))).toBeLessThan(0.2 * DEG)
  })

  it('is latched: commands, release and reset move nothing, and the arms stay held', () => {
    const run = held(scenario('8 s: release', '9 s: reset'))
    run.until(() => run.bench.stage === 'stopped')
    run.forget()
    const moved = run.farthest(() => run.until(() => (run.bench.scenarioTime ?? 0) > 13.9))
    expect(moved).toBeLessThan(0.2 * DEG)
    expect(run.events.filter((e) => e.kind === 'release' || e.kind === 'reset')).toHaveLength(2)
    expect(run.events).toContainEqual(expect.objectContaining({ kind: 'refused', what: 'command' }))
    expect(run.controlwords).toEqual([])
  })

  it('ends with the torque off, in the order of a run without a stop, and the verdict names it', () => {
    const run = held()
    run.forget()
    run.toTheEnd()
    expect(run.controlwords.map(([word]) => word)).toEqual([SHUTDOWN, SHUTDOWN])
    expect(run.stages.slice(-4)).toEqual(['stopping', 'stopped', 'disable', 'rest'])
    const verdict = run.verdict()
    expect(verdict.stop).toMatchObject({ category: 2, source: 'sense', escalation: null })
    expect(verdict.stop!.toStill).toBeGreaterThan(0.05)
    expect(verdict.sentence).toMatch(/a held stop by sense/)
    expect(verdict.findings.filter((f) => f.watch === 'stopping')).toEqual([])
    expect(verdict.ended).toBe('completed')
  })

  it('a new start lets the arms go first, measures anew, and no old setpoint comes back', () => {
    const run = held(scenario('9 s: release', '10 s: reset', '11 s: start'))
    run.until(() => run.bench.stage === 'disable')
    run.forget()
    run.until(() => run.bench.stage === 'approach')
    expect(run.stages.slice(-6)).toEqual(['stopped', 'disable', 'setup', 'seed', 'enable', 'approach'])
    // Whatever was sent until the slow approach began lies where the arms stand.
    const now = run.positions()
    for (const row of run.setpoints)
      for (const [j, q] of row.entries()) expect(Math.abs(q - now[j]!)).toBeLessThan(0.3 * DEG)
    run.until(() => run.bench.stage === 'play')
    expect(run.events.some((e) => e.kind === 'notice')).toBe(false)
  })

  it('on a rig whose sense watch holds: a whole run', async () => {
    const rig = change(
      DEMO_RIG,
      /^watch: \{\}/m,
      'watch: { sense: { hold: true, travel: "0.01 mm", settle: "0 s" } }',
    )
    const text = change(
      change(
        scenarioText('stop-in-mid-drive'),
        /at: "6 s"(.*), over: "0.2 s"/,
        (_, rest) => `at: "5.5 s"${rest}`,
      ),
      /expect:[\s\S]*/,
      'expect: { outcome: stop, by: sense, category: 2, after: "5.5 s", within: "2 s", still: "500 ms" }\n',
    )
    const { verdict } = await play(temporaryFolder(), rig, text)
    expect(verdict).toMatchObject({ outcome: 'pass', stop: { category: 2, source: 'sense' } })
  })
})

describe('an emergency source', () => {
  it('overrules it: quick stop on every bus at once, torque off at standstill', () => {
    const run = held(scenario('6 s: stop'))
    run.until(() => (run.bench.scenarioTime ?? 0) > 5.99)
    run.forget()
    run.until(() => run.bench.stage === 'stopping')
    expect(run.controlwords).toEqual([
      [QUICK_STOP, 0],
      [QUICK_STOP, 1],
    ])
    expect(run.events).toContainEqual(
      expect.objectContaining({ kind: 'escalation', source: 'operator', category: 1 }),
    )
    run.toTheEnd()
    expect(run.controlwords.at(-1)).toEqual([DISABLE_VOLTAGE, 1])
    expect(run.verdict().stop).toMatchObject({ category: 2, escalation: { source: 'operator', category: 1 } })
  })

  it('a signal too, while the joints are still slowing', () => {
    const run = held()
    run.forget()
    run.tick(3)
    run.bench.onSignal('SIGTERM')
    expect(run.controlwords.map(([word]) => word)).toEqual([QUICK_STOP, QUICK_STOP])
    run.toTheEnd()
    expect(run.verdict().ended).toBe('signal')
  })

  it('comes first: a watch that asks to hold makes an emergency stop no softer', () => {
    const run = held()
    run.bench.onSignal('SIGTERM')
    run.hold()
    run.forget()
    run.tick(3)
    expect(run.setpoints).toEqual([])
    run.toTheEnd()
    expect(run.events.filter((e) => e.kind === 'stop')).toHaveLength(1)
  })

  it.each(['setup', 'enable', 'disable'] as const)(
    'there is nothing to hold in stage %s: category 1',
    (stage) => {
      const run = new JudgedBench(DEMO_RIG, scenarioText('slow-ahead'))
      run.until(() => run.bench.stage === stage)
      run.hold()
      expect(run.events).toContainEqual(expect.objectContaining({ kind: 'stop', category: 1 }))
    },
  )
})

describe('arms that cannot be held', () => {
  const failures = (run: JudgedBench): (string | undefined)[] =>
    run
      .verdict()
      .findings.filter((f) => f.severity === 'failure' && f.watch !== 'sense')
      .map((f) => `${f.watch}: ${f.place}`)

  it('a joint that jams while it slows: category 1, as soon as its feedback is seen to stand out of motion', () => {
    const run = held()
    run.plantFault('jammed', 'port.swing')
    run.toTheEnd()
    expect(run.events).toContainEqual(
      expect.objectContaining({ kind: 'escalation', source: 'feedback', place: 'port.swing', category: 1 }),
    )
    expect(failures(run)).toContain('feedback: port.swing')
  })

  it('feedback that ceases while it holds: category 1, at once, by the silence watch', () => {
    const run = held()
    run.until(() => run.bench.stage === 'stopped')
    const t = run.now
    run.plantFault('silent', 'port.elbow')
    run.until(() => run.bench.stage === 'stopping')
    expect(run.now - t).toBeLessThanOrEqual(nanos(0.025))
    expect(run.events).toContainEqual(
      expect.objectContaining({ kind: 'escalation', source: 'silence', place: 'port.elbow', category: 1 }),
    )
  })

  it('a drive that stays enabled but no longer follows (statusword bit 12): category 1, by the stop itself', () => {
    let loose = false
    const run = new JudgedBench(DEMO_RIG, scenario(), (joint, port) => {
      if (joint !== 'port.elbow') return port
      const send = port.send.bind(port)
      return Object.assign(port, {
        send: (f: Frame) => {
          const data = f.data.slice()
          if (loose && f.id === FEEDBACK_OF_ELBOW) data[1] = data[1]! & ~0x10
          return send({ ...f, data })
        },
      })
    })
    run.until(() => (run.bench.scenarioTime ?? 0) > 5.2)
    run.hold()
    run.until(() => run.bench.stage === 'stopped')
    loose = true
    run.until(() => run.bench.stage === 'stopping')
    expect(run.events).toContainEqual(
      expect.objectContaining({ kind: 'escalation', source: 'stop', place: 'port.elbow', category: 1 }),
    )
  })

  it('feedback that ceases, with a silence watch that is patient: the gate sees it', () => {
    const run = held(undefined, change(DEMO_RIG, /^watch: \{\}/m, 'watch: { silence: { periods: 50 } }'))
    run.until(() => run.bench.stage === 'stopped')
    run.plantFault('silent', 'port.elbow')
    run.until(() => run.bench.stage === 'stopping')
    expect(run.events).toContainEqual(expect.objectContaining({ kind: 'escalation', source: 'gate' }))
  })

  it('a joint that is not still in time: category 1 at the time-out, and a finding says so', () => {
    // 8 counts of noise never stay within 0.01 deg/s x 100 ms.
    const rig = change(
      change(DEMO_RIG, 'speed: "0.6 deg/s"', 'speed: "0.01 deg/s"'),
      /noise: "1 counts"/,
      'noise: "8 counts"',
    )
    const run = held(undefined, change(rig, 'timeout: "1 s"', 'timeout: "0.5 s"'))
    const t = run.now
    run.until(() => run.events.some((e) => e.kind === 'escalation'))
    expect(run.events.find((e) => e.kind === 'escalation')).toMatchObject({ source: 'stop', category: 1 })
    expect((run.now - t) / 1e9).toBeCloseTo(0.5, 2)
    run.toTheEnd()
    const finding = run.verdict().findings.find((f) => f.watch === 'stopping')
    expect(finding?.says).toMatch(/^The held stop was given up: a joint was not still within 0.5 s/)
  })

  it('a joint that would come to rest outside its limits: category 1 at once', () => {
    const run = new JudgedBench(DEMO_RIG, scenarioText('operator-stop'))
    run.until(() => (run.bench.scenarioTime ?? 0) > 5.2)
    const { speed, j } = run
      .speeds()
      .reduce((m, v, i) => (Math.abs(v) > Math.abs(m.speed) ? { speed: v, j: i } : m), {
        speed: 0,
        j: 0,
      })
    // Half a degree before the joint, in the way that it goes.
    const limits = run.rig.joints[j]!.limits as { lower: number; upper: number }
    const wall = run.positions()[j]! + Math.sign(speed) * 0.7 * DEG
    if (speed > 0) limits.upper = wall
    else limits.lower = wall
    run.hold()
    run.until(() => run.events.some((e) => e.kind === 'escalation'))
    const escalation = run.events.find((e) => e.kind === 'escalation')!
    expect(escalation).toMatchObject({ source: 'stop', place: run.rig.joints[j]!.name })
    expect(escalation.t - run.events.find((e) => e.kind === 'stop')!.t).toBeLessThanOrEqual(nanos(0.005))
  })
})
