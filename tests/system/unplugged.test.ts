/**
 * The drives' own reaction: whatever ceases (the host's heartbeat, SYNC, setpoints, or all of them), the simulated drives
 * stop by themselves. Times run from the cut to the last joint still, by the arms' true positions. On real arms the same is
 * shown by a person who pulls the plug.
 */
import { describe, expect, it } from 'vitest'
import type { Bus } from '../../src/bus/contract.js'
import { nanos } from '../../src/clock.js'
import { OUR_NODE } from '../../src/wire/cia402/network.js'
import { COB } from '../../src/wire/cia402/objects.js'
import { Workbench } from '../setup/bench.js'
import { between } from '../setup/between.js'
import { change, DEMO_RIG } from '../setup/runs.js'

const MS = 1e6
const DEG = Math.PI / 180
const PERIOD = 5 * MS
/** Settings of the demo rig, and the simulated drives' patience: 5 periods, 5 SYNCs. */
const HEARTBEAT = 100 * MS
const OUR_BEAT = 20 * MS
const PATIENCE = 5 * PERIOD

type Loss = 'heartbeat' | 'SYNC' | 'setpoints'
const CODE: Record<Loss, number> = { heartbeat: 0x8130, SYNC: 0x8700, setpoints: 0x8250 }

/** Is this frame part of what has ceased? */
const CEASES: Record<Loss, (id: number) => boolean> = {
  heartbeat: (id) => id === COB.heartbeat + OUR_NODE,
  SYNC: (id) => id === COB.sync,
  setpoints: (id) => id > COB.setpoint && id < COB.setpoint + 0x80,
}

/** The host bears old feedback for so long that its own stop does not come first. */
const PATIENT = change(DEMO_RIG, /stale-after: "[^"]+"/, 'stale-after: "400 ms"')

/** Arms in mid-stroke, whose drives on one bus stop hearing something. */
class Table {
  readonly bench
  readonly table: Workbench
  /** Emergency codes sent since the cut, and when. */
  readonly emergencies: { readonly bus: number; readonly code: number; readonly t: number }[] = []
  #deaf: { readonly bus: number; readonly loss: Loss } | null = null
  #cutAt = Number.POSITIVE_INFINITY

  constructor(rigText = DEMO_RIG) {
    this.table = new Workbench(rigText, (joint, port) => this.#ears(joint, port))
    this.bench = this.table.bench().bench
    this.table.mocks.forEach((mock, bus) => {
      mock.attach('listener').onFrame(({ id, data }, t) => {
        if (id <= COB.sync || id >= COB.sync + 0x80 || t < this.#cutAt) return
        this.emergencies.push({ bus, code: data[0]! | (data[1]! << 8), t })
      })
    })
    const { table, bench } = this
    table.run(bench, () => (bench.scenarioTime ?? 0) > 8)
  }

  cut(bus: number, loss: Loss): void {
    this.#cutAt = this.table.time.now()
    this.#deaf = { bus, loss }
  }

  /** Goes on for a second. @param act each ms @returns ns from now to the last ms in which a joint of the bus (-1: any) moved */
  settle(bus: number, act: () => void): { readonly time: number; readonly moved: boolean } {
    const { time, rig, plant } = this.table
    this.#cutAt = Math.min(this.#cutAt, time.now())
    const begun = time.now()
    const [before, now] = [new Float64Array(rig.joints.length), new Float64Array(rig.joints.length)]
    let last = begun
    plant.witness(begun, before)
    for (let t = begun + MS; t <= begun + nanos(1); t += MS) {
      act()
      time.runUntil(t)
      plant.witness(t, now)
      const moves = rig.joints.some(
        (j) => (bus < 0 || j.wire.bus === bus) && Math.abs(now[j.index]! - before[j.index]!) > 1e-4 * DEG,
      )
      if (moves) last = t
      before.set(now)
    }
    return { time: last - begun, moved: last > begun }
  }

  #ears(joint: string, port: Bus): Bus {
    const onBus = joint.startsWith('port') ? 0 : 1
    return between(port, {
      onFrame: (listener) =>
        port.onFrame((f, t) => {
          const deaf = this.#deaf
          if (deaf?.bus !== onBus || !CEASES[deaf.loss](f.id)) listener(f, t)
        }),
    })
  }
}

/** ns that the slowest stop takes: from each joint's limit of speed by the quick stop's ramp, and what the servo needs to settle. */
const LONGEST_STOP = (360 / 1500) * 1e9 + 100 * MS

describe.each([0, 1])('bus %i', (bus) => {
  it.each([
    { loss: 'heartbeat', within: HEARTBEAT + OUR_BEAT },
    { loss: 'SYNC', within: PATIENCE + PERIOD },
    { loss: 'setpoints', within: PATIENCE + PERIOD },
  ] as const)('without $loss its drives stop by themselves', ({ loss, within }) => {
    const t = new Table(PATIENT)
    t.cut(bus, loss)
    const cutAt = t.table.time.now()
    // The host's loop goes on: everything else still arrives.
    let tick = 0
    const { time, moved } = t.settle(bus, () => {
      if (tick > 0 && tick % 5 === 0) t.bench.tick()
      tick++
    })
    expect(moved).toBe(true)
    const first = t.emergencies.find((e) => e.bus === bus)
    expect(first?.code).toBe(CODE[loss])
    expect(first!.t - cutAt).toBeLessThanOrEqual(within + MS)
    expect(time).toBeLessThanOrEqual(within + LONGEST_STOP)
    console.info(
      `bus ${bus}, no ${loss}: answered after ${(first!.t - cutAt) / MS} ms, still after ${time / MS} ms`,
    )
  })

  it('with its plug pulled they stop by themselves', () => {
    const t = new Table()
    t.table.refuse(bus, 'down')
    let tick = 0
    const { time, moved } = t.settle(bus, () => {
      if (tick > 0 && tick % 5 === 0) t.bench.tick()
      tick++
    })
    expect(moved).toBe(true)
    expect(t.emergencies.filter((e) => e.bus === bus)[0]?.code).toBe(CODE.SYNC)
    expect(time).toBeLessThanOrEqual(PATIENCE + PERIOD + LONGEST_STOP)
    console.info(`bus ${bus}, plug pulled: still after ${time / MS} ms`)
  })
})

it('with no host at all every drive of every bus stops by itself', () => {
  const t = new Table()
  const { time, moved } = t.settle(-1, () => {})
  expect(moved).toBe(true)
  expect(new Set(t.emergencies.map((e) => e.bus))).toEqual(new Set([0, 1]))
  expect(time).toBeLessThanOrEqual(PATIENCE + PERIOD + LONGEST_STOP)
  console.info(`no host at all: still after ${time / MS} ms`)
})

it('drives that do not watch the host show what this is for', () => {
  const t = new Table(change(DEMO_RIG, 'watchdog: true', 'watchdog: false'))
  t.settle(-1, () => {})
  expect(t.emergencies).toEqual([])
})
