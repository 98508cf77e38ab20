/**
 * No jump at enable: joints without brakes, away from zero, falling, and one drive that hears its enabling 300 ms
 * after the others. The witness (true angles) must show neither a step nor an acceleration that falling and a catch
 * within the drive's own abilities do not explain.
 */
import { describe, expect, it } from 'vitest'
import { Bench } from '../../src/bench/bench.js'
import type { Bus } from '../../src/bus/contract.js'
import { MockBus } from '../../src/bus/mock.js'
import { nanos, VirtualTime } from '../../src/clock.js'
import { ReferenceDriver } from '../../src/driver/reference.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import { createPlant } from '../../src/plant/plant.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { between } from '../setup/between.js'
import { change, DEMO_RIG, scenarioText } from '../setup/runs.js'

const PERIOD = 0.005
const SAG = 0.5
const LATE = 0.6
const CONTROLWORD = 0x181

type Tick = Extract<BenchEvent, { kind: 'tick' }>

/** A port that lets no controlword through before `LATE` seconds. */
function deaf(port: Bus): Bus {
  return between(port, {
    onFrame: (listener) =>
      port.onFrame((f, t) => (f.id === CONTROLWORD && t < nanos(LATE) ? undefined : listener(f, t))),
  })
}

/** Plays to the start of the stage `play` and gives the ticks with their stages. */
function startUp(deafJoint: string): { ticks: (Tick & { stage: string })[]; stages: string[] } {
  const falling = change(DEMO_RIG, /(simulation:[\s\S]*?brakes: )true/, '$1false')
  const rig = loadRig(
    change(falling, /(simulation:[\s\S]*?sag: )"[^"]+"/, `$1"${SAG} rad/s2"`),
    'rig.yaml',
    watchSchemas,
  )
  const time = new VirtualTime()
  const mocks = rig.buses.map((bus) => new MockBus(time, bus))
  const attach = (bus: number, name: string): Bus => {
    const port = mocks[bus]!.attach(name, { order: 'by identifier' })
    return name === deafJoint ? deaf(port) : port
  }
  const ticks: (Tick & { stage: string })[] = []
  const stages: string[] = []
  const bench = new Bench({
    rig,
    scenario: loadScenario(scenarioText('slow-ahead'), 'scenario.yaml', rig),
    seed: 1,
    clock: time,
    buses: rig.buses.map(({ queue }, i) => mocks[i]!.attach('bench', { queue })),
    driver: new ReferenceDriver(rig),
    plant: createPlant(rig, time, attach, 1),
    log: {
      frame: () => {},
      event: (e) => {
        if (e.kind === 'stage') stages.push(e.stage)
        if (e.kind === 'tick') ticks.push({ ...e, stage: stages.at(-1)! })
      },
    },
  })
  for (let k = 0; bench.stage !== 'play' && !bench.ended; k++) {
    time.runUntil(nanos(k * rig.control.period))
    bench.tick()
  }
  return { ticks, stages }
}

describe('enabling', () => {
  const { ticks, stages } = startUp('port.elbow')
  const still = ticks.filter((tick) => tick.stage !== 'approach' && tick.stage !== 'play')

  it('waits for the drive that hears it late', () => {
    expect(stages).toEqual(['setup', 'seed', 'enable', 'approach', 'play'])
    expect(still.at(-1)!.t).toBeGreaterThan(nanos(LATE))
  })

  it.each([
    ['port.shoulder', 1],
    ['port.elbow', 2],
    ['starboard.pitch', 10],
  ])('catches %s where it is', (_, joint) => {
    const angles = still.map((tick) => tick.witness![joint]!)
    expect(Math.abs(angles.at(-1)! - angles[0]!), 'the joint must really have been falling').toBeGreaterThan(
      0.004,
    )
    // Free fall from power-on to the end of this span: no step may be larger than its last.
    const step = SAG * (still.at(-1)!.t / 1e9) * PERIOD
    for (let i = 1; i < angles.length; i++)
      expect(Math.abs(angles[i]! - angles[i - 1]!)).toBeLessThanOrEqual(step)
  })

  it('holds every joint at rest until the approach, once all follow', () => {
    const last = still.slice(-3)
    for (let joint = 0; joint < 12; joint++) {
      expect(Math.abs(last.at(-1)!.witness![joint]! - last[0]!.witness![joint]!)).toBeLessThan(2e-4)
    }
  })
})
