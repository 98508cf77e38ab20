/**
 * After a stop nothing moves by itself: commands are refused, release and reset send nothing, a new start begins at the
 * measured pose, and no setpoint from before comes back, also when the arms lose their power and get it again. A boot-up
 * message that nobody asked for is a finding and a stop in every state of the latch.
 */
import { describe, expect, it } from 'vitest'
import { JudgedBench } from '../setup/judged-bench.js'
import { change, DEMO_RIG, scenarioText } from '../setup/runs.js'

const DEG = Math.PI / 180
const QUICK_STOP = 2
const DISABLE_VOLTAGE = 0

/** Ahead at 0.3 m/s; the operator's actions as `6 s: stop`. */
function scenario(...actions: string[]): string {
  const operator = actions.map((action) => {
    const [at, what] = action.split(': ')
    return `  - { at: "${at}", do: ${what} }\n`
  })
  return `name: after-stop
about: For a test.
duration: "24 s"
commands:
  - { at: "1 s", surge: "0.3 m/s", yaw: "0 deg/s", over: "0.5 s" }
  - { at: "9 s", surge: "0.2 m/s", yaw: "0 deg/s", over: "0.5 s" }
operator:
${operator.join('')}expect: { outcome: stop, by: operator, within: "20 ms", still: "500 ms" }
`
}

const at = (run: JudgedBench, s: number): void => run.until(() => (run.bench.scenarioTime ?? 0) > s)

/** Arms that sink slowly: where they stand is not where they were held. */
const sinking = change(
  DEMO_RIG.replace(/brakes: true/g, 'brakes: false'),
  /(simulation:[\s\S]*?sag: )"[^"]+"/,
  '$1"0.02 rad/s2"',
)

function powerCycle(run: JudgedBench, s: number): void {
  for (const { name } of run.rig.joints) run.plantFault('unpowered', name)
  const t = run.now
  run.until(() => run.now > t + s * 1e9)
  for (const { name } of run.rig.joints) run.plantFault('unpowered', name, false)
}

const bootFindings = (run: JudgedBench) =>
  run.events.filter((e) => e.kind === 'finding' && e.watch === 'drive' && e.quantity === 'node state')

describe('stopped, released, reset', () => {
  it('each sends neither a setpoint nor an enable, refuses commands and moves nothing', () => {
    const run = new JudgedBench(DEMO_RIG, scenario('6 s: stop', '8.5 s: release', '10 s: reset'))
    at(run, 6)
    run.until(() => run.bench.stage === 'stopped')
    run.forget()
    for (const until of [8.4, 9.9, 20]) {
      expect(run.farthest(() => at(run, until))).toBeLessThan(0.05 * DEG)
      expect(run.setpoints).toEqual([])
      expect(run.controlwords.filter(([word]) => word !== QUICK_STOP && word !== DISABLE_VOLTAGE)).toEqual([])
    }
    expect(run.events).toContainEqual(expect.objectContaining({ kind: 'refused', what: 'command' }))
    expect(run.events.filter((e) => e.kind === 'command').every((e) => e.t < run.stopAt())).toBe(true)
  })

  it('a new start begins at the measured pose of arms that have sunk since, not where they were held', () => {
    const run = new JudgedBench(
      sinking,
      scenario('6 s: stop', '8.5 s: release', '10 s: reset', '11 s: start'),
    )
    at(run, 5.99)
    const held = run.setpoints.at(-1)!
    at(run, 10.9)
    run.forget()
    const stood = run.positions()
    const sunk = Math.max(...stood.map((q, j) => Math.abs(q - held[j]!)))
    expect(sunk).toBeGreaterThan(3 * DEG)
    run.until(() => run.bench.stage === 'enable')
    const measured = run.positions()
    run.until(() => run.bench.stage === 'approach')
    expect(run.setpoints.length).toBeGreaterThan(20)
    for (const row of run.setpoints) {
      // Between its first setpoint and its brakeless enabling a joint sinks on; a held one would be degrees away.
      for (const [j, q] of row.entries()) expect(Math.abs(q - measured[j]!)).toBeLessThan(0.5 * DEG)
    }
    expect(run.farthest(() => run.tick(5))).toBeLessThan(0.5 * DEG)
  })
})

describe('the arms lose their power after the stop and get it again', () => {
  it('no old setpoint comes, nothing moves, each boot-up message is a finding, and a new start measures anew', () => {
    const run = new JudgedBench(
      DEMO_RIG,
      scenario('6 s: stop', '13 s: release', '14 s: reset', '15 s: start'),
    )
    at(run, 9)
    run.forget()
    const moved = run.farthest(() => {
      powerCycle(run, 1)
      at(run, 14.9)
    })
    expect(moved).toBeLessThan(0.05 * DEG)
    expect(run.setpoints).toEqual([])
    expect(run.controlwords.filter(([word]) => word !== QUICK_STOP && word !== DISABLE_VOLTAGE)).toEqual([])
    expect(bootFindings(run)).toHaveLength(run.rig.joints.length)
    const stood = run.positions()
    run.until(() => run.bench.stage === 'approach')
    expect(run.setpoints.length).toBeGreaterThan(20)
    for (const row of run.setpoints)
      for (const [j, q] of row.entries()) expect(Math.abs(q - stood[j]!)).toBeLessThan(0.2 * DEG)
    // In the set-up of the new start nobody is surprised by a boot-up.
    expect(bootFindings(run)).toHaveLength(run.rig.joints.length)
    run.until(() => run.bench.stage === 'play')
  })

  it.each([
    ['released', 8],
    ['reset', 9.5],
  ] as const)('%s already: it is latched anew, and the start is refused', (_, when) => {
    const run = new JudgedBench(
      DEMO_RIG,
      scenario('6 s: stop', '7.5 s: release', '9 s: reset', '12 s: start'),
    )
    at(run, when)
    run.forget()
    powerCycle(run, 0.2)
    at(run, when + 0.5)
    expect(run.events.filter((e) => e.kind === 'stop').at(-1)).toMatchObject({ source: 'drive' })
    expect(run.controlwords.some(([word]) => word === QUICK_STOP)).toBe(true)
    at(run, 13)
    expect(run.events).toContainEqual(expect.objectContaining({ kind: 'refused', what: 'start' }))
    expect(run.setpoints).toEqual([])
    expect(run.bench.stage).toBe('stopped')
  })

  it('and the verdict is no pass', () => {
    const run = new JudgedBench(DEMO_RIG, scenario('6 s: stop'))
    at(run, 9)
    powerCycle(run, 0.5)
    run.toTheEnd()
    expect(run.verdict().outcome).toBe('fail')
  })
})

describe('a drive whose power fails in mid-stroke for a moment', () => {
  it('its boot-up message stops the arms before its feedback is missed; without its feedback the stop is not shown', () => {
    const run = new JudgedBench(DEMO_RIG, scenarioText('operator-stop'))
    at(run, 5)
    run.plantFault('unpowered', 'starboard.pitch')
    run.plantFault('unpowered', 'starboard.pitch', false)
    run.toTheEnd()
    const verdict = run.verdict()
    expect(verdict.stop).toMatchObject({ source: 'drive', place: 'starboard.pitch', category: 1 })
    expect(verdict.stop!.says).toMatch(/restarted/)
    expect(verdict.outcome).not.toBe('pass')
  })

  it('in a held stop it makes that an emergency stop', () => {
    const run = new JudgedBench(DEMO_RIG, scenarioText('slow-ahead'))
    at(run, 5)
    run.hold()
    run.until(() => run.bench.stage === 'stopped')
    run.plantFault('unpowered', 'starboard.pitch')
    run.plantFault('unpowered', 'starboard.pitch', false)
    run.until(() => run.bench.stage === 'stopping')
    expect(run.events).toContainEqual(
      expect.objectContaining({ kind: 'escalation', source: 'drive', place: 'starboard.pitch', category: 1 }),
    )
  })
})

describe('a person who asks for a stop while that of the scenario is in force', () => {
  it.each([
    ['stopped', 6.5],
    ['released', 7.6],
    ['reset', 7.8],
  ] as const)(
    '%s: the scenario does not start the arms again, whatever its operator does next',
    (_, when) => {
      const run = new JudgedBench(
        DEMO_RIG,
        scenario('6 s: stop', '7.5 s: release', '7.7 s: reset', '7.9 s: start'),
      )
      at(run, when)
      run.forget()
      run.bench.onStop({ source: 'key', says: 'the key space was pressed' })
      expect(run.farthest(() => run.toTheEnd())).toBeLessThan(0.05 * DEG)
      expect(run.setpoints).toEqual([])
      expect(run.events).toContainEqual(expect.objectContaining({ kind: 'refused', what: 'start' }))
      expect(run.events.at(-1)).toMatchObject({ kind: 'end', reason: 'operator' })
    },
  )
})
