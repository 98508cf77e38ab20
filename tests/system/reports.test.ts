/** Drives that report temperature, supply and current: what simulated ones say comes through set-up, bus and decoder to the watch. */
import { describe, expect, it } from 'vitest'
import { runVirtual } from '../../src/bench/virtual.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { change, DEMO_RIG, FRAMES_RIG, scenarioText } from '../setup/runs.js'

const REPORTS =
  'reports: { every: 20, temperature: { object: "0x2030", scale: "0.1 degC" }, voltage: {}, current: { scale: "5 mA" } }'
/** The starboard bus alone, so that drives of the other one have nothing to say. */
const RIG = change(DEMO_RIG, /(starboard-can\n[^-]*queue: 32\n)/, (same) => `${same}    ${REPORTS}\n`)

async function verdictOf(rigText: string): Promise<Verdict> {
  const rig = loadRig(rigText, 'rig.yaml', watchSchemas)
  const scenario = loadScenario(scenarioText('one-side'), 'scenario.yaml', rig)
  const recording = { frame: () => {}, event: () => {}, flush: () => {} }
  return (await runVirtual({ rig, scenario, seed: 1, recording })).verdict
}

function figure(verdict: Verdict, place: string, name: string): number | undefined {
  return verdict.watches
    .find((w) => w.watch === 'health')
    ?.figures.find((f) => f.place === place && f.name === name)?.value
}

describe('drives that report', () => {
  it('CiA 402: passes, with what each drive said; the model is one body that warms, and one source', async () => {
    const verdict = await verdictOf(RIG)
    expect([verdict.outcome, verdict.findings]).toEqual(['pass', []])
    const hottest = figure(verdict, 'starboard.shoulder', 'temperature, highest')!
    expect(hottest).toBeGreaterThanOrEqual(20)
    expect(hottest).toBeLessThan(25)
    expect(figure(verdict, 'starboard.shoulder', 'supply at rest')).toBeCloseTo(24, 2)
    expect(figure(verdict, 'starboard.shoulder', 'supply, lowest')).toBeLessThan(24)
    expect(figure(verdict, 'starboard.shoulder', 'supply, lowest')).toBeGreaterThan(23)
    expect(figure(verdict, 'starboard.shoulder', 'current, greatest')).toBeGreaterThan(0)
    expect(figure(verdict, 'port.shoulder', 'supply at rest')).toBeUndefined()
  })

  it('a supply that gives way stops the arms', async () => {
    const weak = change(RIG, '  plant: dry', '  supply: { resistance: "100 ohm" }\n  plant: dry')
    const verdict = await verdictOf(weak)
    expect(verdict.stop).toMatchObject({ source: 'health' })
    expect(verdict.findings.map((f) => f.quantity)).toContain('supply sag')
  })

  it('drives that are hot stop the arms', async () => {
    const verdict = await verdictOf(
      change(
        change(RIG, '  plant: dry', '  ambient: "45 degC"\n  plant: dry'),
        'watch: {}',
        'watch: { health: { temperature: { warning: "40 degC", limit: "44 degC" } } }',
      ),
    )
    expect(verdict.stop).toMatchObject({ source: 'health' })
    expect(verdict.findings[0]).toMatchObject({ quantity: 'temperature', limit: 44, stop: 1 })
  })

  it('frame maps: the same, where feedback has signals for it', async () => {
    const one = '{ is: voltage, byte: 7, length: 8, scale: "0.25 V" }'
    const longer = change(FRAMES_RIG, 'bytes: 7', 'bytes: 8')
    const verdict = await verdictOf(
      change(longer, /( *)- { is: torque, byte: 4/, (same, space) => `${space}- ${one}\n${same}`),
    )
    expect([verdict.outcome, verdict.findings.filter((f) => f.watch === 'health')]).toEqual(['pass', []])
    expect(verdict.watches.find((w) => w.watch === 'health')!.figures).toContainEqual({
      place: 'port.elbow',
      name: 'supply at rest',
      value: 48,
      unit: 'V',
      limit: null,
    })
  })
})
