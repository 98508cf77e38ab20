/** The stop path is proven once in operation enabled, at standstill, before anything has moved. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Bus } from '../../src/bus/contract.js'
import type { BenchEvent, Stage } from '../../src/files/event.js'
import { verdictJson } from '../../src/report/verdict-json.js'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import { isControl, isSetpoint, Workbench } from '../setup/bench.js'
import { between } from '../setup/between.js'
import { change, DEMO_RIG, eventsOf, play, played, scenarioText, temporaryFolder } from '../setup/runs.js'

const DEG = Math.PI / 180
const QUICK_STOP = 2
const DISABLE_VOLTAGE = 0
const ENABLE = 15

const PROVEN = change(DEMO_RIG, 'stop:\n', 'stop:\n  prove: always\n')

const stagesOf = (events: readonly BenchEvent[]): Stage[] =>
  events.flatMap((e) => (e.kind === 'stage' ? [e.stage] : []))

/** A drive that hears no controlword with this command, neither by PDO nor by SDO. */
function deafTo(word: number, joint: string): (name: string, port: Bus) => Bus {
  return (name, port) =>
    name !== joint
      ? port
      : between(port, {
          onFrame: (listener) =>
            port.onFrame((f, t) => {
              const byPdo = f.id === 0x181 && f.data[0] === word
              const bySdo = f.id > 0x600 && f.id < 0x680 && f.data[1] === 0x40 && f.data[2] === 0x60
              if (!byPdo && !bySdo) listener(f, t)
            }),
        })
}

describe('on the demo rig, where it is asked for', () => {
  const out = temporaryFolder()

  it('a good run passes, is no stop, and its recording is judged the same to the byte', async () => {
    const { verdict, folder } = await play(out, PROVEN, scenarioText('slow-ahead'))
    expect(verdict).toMatchObject({ outcome: 'pass', stop: null, findings: [] })
    const events = eventsOf(folder)
    expect(stagesOf(events)).toEqual(
      'setup seed enable prove setup seed enable approach play park disable rest'.split(' '),
    )
    expect(events.some((e) => e.kind === 'stop' || e.kind === 'notice')).toBe(false)
    const { figures } = verdict.watches.find((w) => w.watch === 'proof')!
    expect(figures).toContainEqual(expect.objectContaining({ name: 'stop path proven', value: 1 }))
    const answers = figures.filter((f) => f.name === 'answer to the quick stop')
    const sags = figures.filter((f) => f.name === 'sag without power')
    expect(answers).toHaveLength(12)
    expect(sags).toHaveLength(12)
    // The simulated drive obeys at once and says so at the next SYNC, a period later; then its frame must come through.
    for (const { value } of answers) expect(value).toBeLessThan(2 * 0.005)
    // Braked joints: encoder noise only.
    for (const { value } of sags) expect(value).toBeLessThan(0.05 * DEG)

    expect(readFileSync(join(folder, 'verdict.json'), 'utf8')).toBe(
      verdictJson(judgeRecording(folder).judgement.verdict),
    )
  })

  it('arms that sink when their power goes end the run before they have moved', async () => {
    const sinking = change(
      PROVEN,
      /simulation:([\s\S]*?)brakes: true/,
      (_, head) => `simulation:${head}brakes: false`,
    )
    const { verdict, folder } = await play(out, sinking, scenarioText('slow-ahead'))
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop).toMatchObject({ source: 'proof' })
    expect(verdict.findings).toContainEqual(
      expect.objectContaining({ watch: 'proof', quantity: 'sag without power', limit: 1 * DEG }),
    )
    expect(stagesOf(eventsOf(folder))).not.toContain('approach')
  })

  it('simulated arms are proven only where the rig says always', async () => {
    const { verdict, folder } = await played(DEMO_RIG, scenarioText('slow-ahead'))
    expect(stagesOf(eventsOf(folder))).not.toContain('prove')
    const { figures } = verdict.watches.find((w) => w.watch === 'proof')!
    expect(figures).toEqual([expect.objectContaining({ name: 'stop path proven', value: 0 })])
  })
})

describe('frame by frame', () => {
  it('quick stop, then disable voltage, and then no setpoint until everything has started anew', () => {
    const table = new Workbench(PROVEN)
    const { bench } = table.bench()
    table.run(bench, () => bench.stage === 'approach')
    const quick = table.sent.findIndex((s) => isControl(s, QUICK_STOP))
    expect(quick).toBeGreaterThan(0)
    const after = table.sent.slice(quick)
    const off = after.findIndex((s) => isControl(s, DISABLE_VOLTAGE))
    const on = after.findIndex((s) => isControl(s, ENABLE))
    const setpoint = after.findIndex((s, i) => i > off && isSetpoint(s))
    expect(off).toBeGreaterThan(0)
    expect(on).toBeGreaterThan(setpoint)
    // From the second quick stop, which is the stop proper, to the new start: none.
    expect(after[setpoint]!.t - after[off]!.t).toBeGreaterThan(2e9)
  })

  it('a drive that does not answer the quick stop ends the run', () => {
    const table = new Workbench(PROVEN, deafTo(QUICK_STOP, 'starboard.elbow'))
    const { bench, events } = table.bench()
    const start = new Float64Array(table.rig.joints.length)
    table.plant.witness(0, start)
    table.run(bench)
    expect(events.find((e) => e.kind === 'stop')).toMatchObject({
      source: 'drive',
      place: 'starboard.elbow',
      says: expect.stringMatching(/did not answer the quick stop .* within 100 ms/),
    })
    expect(stagesOf(events)).not.toContain('approach')
    const end = new Float64Array(start.length)
    table.plant.witness(table.time.now(), end)
    for (const [j, q] of end.entries()) expect(Math.abs(q - start[j]!)).toBeLessThan(0.2 * DEG)
  })

  it('a signal in the middle of it stops for good', () => {
    const table = new Workbench(PROVEN)
    const { bench, events } = table.bench()
    table.run(bench, () => bench.stage === 'prove')
    bench.onSignal('SIGINT')
    table.run(bench)
    expect(stagesOf(events).slice(-3)).toEqual(['prove', 'stopping', 'stopped'])
    expect(events.at(-1)).toMatchObject({ kind: 'end', reason: 'signal' })
  })
})
