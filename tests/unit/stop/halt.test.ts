/** The stop without a bench, on the demo rig's simulated arms in virtual time: what it does, and what the drives confirm of it. */
import { beforeEach, describe, expect, it } from 'vitest'
import { nanos } from '../../../src/clock.js'
import { confirmed, Halt } from '../../../src/stop/halt.js'
import { nowhere } from '../../../src/stop/nowhere.js'
import { Workbench } from '../../setup/bench.js'
import { between } from '../../setup/between.js'
import { OwnedBench } from '../../setup/owned-bench.js'
import { change, DEMO_RIG, scenarioText } from '../../setup/runs.js'

const MS = 1e6

let rig: Workbench
beforeEach(() => {
  rig = new Workbench()
})

/** The demo is played until `s` after its beginning; then its bench is heard of no more. Gives buses of somebody else. */
function playUntil(s: number) {
  const { bench } = rig.bench()
  rig.run(bench, () => (bench.scenarioTime ?? 0) >= s)
  expect(bench.stage).toBe('play')
  return rig.mocks.map((mock) => mock.attach('another'))
}

function run(halt: Halt, until: () => boolean = () => halt.stage === 'over', most = 20): number {
  const from = rig.time.now()
  const period = nanos(rig.rig.control.period)
  for (let t = from + period; !until() && t < from + nanos(most); t += period) {
    rig.time.runUntil(t)
    halt.tick(t)
  }
  return (rig.time.now() - from) / MS
}

function truth(): Float64Array {
  const positions = new Float64Array(rig.rig.joints.length)
  rig.plant.witness(rig.time.now(), positions)
  return positions
}

describe.each([
  ['in place of the bench', true],
  ['beside whoever sends SYNC, asking', false],
])('%s', (_, feed) => {
  it('moving arms come to rest, every drive confirms it, and none sags', () => {
    const halt = new Halt(rig.rig, playUntil(6), { feed })
    const began = rig.time.now()
    halt.begin(began)
    run(halt, () => halt.stage !== 'stopping')
    const rest = truth()
    const drives = halt.drives(rig.time.now())
    expect(drives.map((d) => d.place)).toEqual(rig.rig.joints.map((j) => j.name))
    expect(drives.every(confirmed)).toBe(true)
    for (const { since, state } of drives) {
      // 180 deg/s at 1500 deg/s2 is 120 ms, and the last look came some ms late.
      expect((since! - began) / MS).toBeLessThan(150)
      expect(state).toBe('switch on disabled')
    }
    expect(run(halt)).toBeGreaterThan(1990)
    expect(truth()).toEqual(rest)
    for (const { sag } of halt.drives(rig.time.now())) expect(sag).toBeLessThan(0.001)
  })
})

describe('drives', () => {
  it('that have stopped by themselves and left operational are asked, and confirm', () => {
    const buses = playUntil(6)
    // Nobody feeds them: their own time-out is 100 ms.
    rig.time.runUntil(rig.time.now() + 500 * MS)
    const halt = new Halt(rig.rig, buses, { feed: true })
    halt.begin(rig.time.now())
    expect(run(halt, () => halt.stage !== 'stopping')).toBeLessThan(500)
    expect(halt.drives(rig.time.now()).every(confirmed)).toBe(true)
  })

  it('that say nothing at all confirm nothing, and the stop ends all the same', () => {
    const halt = new Halt(
      rig.rig,
      rig.mocks.map(({ name }) => nowhere(name, 'sent')),
      { feed: true },
    )
    halt.begin(rig.time.now())
    expect(run(halt)).toBeLessThan(7000)
    const drives = halt.drives(rig.time.now())
    expect(drives).toHaveLength(12)
    expect(drives.some((d) => confirmed(d) || d.off || d.since !== null || d.sag !== null)).toBe(false)
  })

  it('without brakes sag, and how far is known', () => {
    rig = new Workbench(
      change(
        DEMO_RIG,
        /simulation:\n([\s\S]*?)brakes: true\n {2}sag: "1 rad\/s2"/,
        'simulation:\n$1brakes: false\n  sag: "0.02 rad/s2"',
      ),
    )
    const halt = new Halt(rig.rig, playUntil(6), { feed: true })
    halt.begin(rig.time.now())
    run(halt, () => halt.stage !== 'stopping')
    const from = truth()
    run(halt)
    const to = truth()
    halt.drives(rig.time.now()).forEach(({ sag }, j) => {
      const fallen = Math.abs(to[j]! - from[j]!)
      // One tick's fall and some counts of noise apart.
      expect(sag).toBeCloseTo(fallen, 2.5)
      expect(sag).toBeGreaterThan(0.01)
    })
  })
})

describe('a joint that slips after it was at rest', () => {
  const jam = (on: boolean) => {
    for (const { index } of rig.rig.joints)
      rig.plant.fault({ fault: 'jammed', place: index, other: -1, amount: 0 }, on)
  }
  /** Without brakes, held by something until they confirmed; from 1.9 s of the sag window's 2 s on they slip. */
  const slipping = () => {
    rig = new Workbench(
      change(
        DEMO_RIG,
        /simulation:\n([\s\S]*?)brakes: true\n {2}sag: "1 rad\/s2"/,
        'simulation:\n$1brakes: false\n  sag: "0.3 rad/s2"',
      ),
    )
    const halt = new Halt(rig.rig, playUntil(6), { feed: true })
    halt.begin(rig.time.now())
    run(halt, () => rig.time.now() > nanos(6.2))
    jam(true)
    expect(run(halt, () => halt.stage !== 'stopping')).toBeLessThan(500)
    expect(run(halt, () => false, 1.9)).toBeGreaterThan(1890)
    jam(false)
    return halt
  }

  it('is watched on until it is seen at rest again', () => {
    const halt = slipping()
    run(halt, () => false, 0.15)
    expect(halt.stage).toBe('watching')
    jam(true)
    expect(run(halt)).toBeLessThan(200)
    expect(halt.drives(rig.time.now()).every((d) => confirmed(d) && d.sag! > 0.002)).toBe(true)
  })

  it('is not at rest while it falls, and watching ends all the same', () => {
    const halt = slipping()
    expect(run(halt)).toBeLessThan(5000)
    const drives = halt.drives(rig.time.now())
    expect(drives.some(confirmed)).toBe(false)
    expect(drives.every((d) => d.off && d.sag! > 0.1)).toBe(true)
  })
})

describe('a bus', () => {
  it('that takes nothing for 300 ms gets the stop when it takes frames again', () => {
    const buses = playUntil(6)
    const from = rig.time.now()
    const open = (): boolean => rig.time.now() - from > 300 * MS
    const sent: { t: number; id: number; word: number | undefined }[] = []
    const real = buses[0]!
    const stuck = between(real, {
      get waiting() {
        return open() ? real.waiting : 4
      },
      send: (frame) => {
        if (!open()) return 'queue full'
        sent.push({ t: (rig.time.now() - from) / MS, id: frame.id, word: frame.data[0] })
        return real.send(frame)
      },
    })
    const halt = new Halt(rig.rig, [stuck, buses[1]!], { feed: true })
    halt.begin(from)
    run(halt, () => halt.stage !== 'stopping')
    // The very first frame that leaves is the stop's.
    expect(sent[0]).toMatchObject({ id: 0x181 })
    expect(sent[0]!.t).toBeLessThan(310)
    expect(halt.drives(rig.time.now()).every(confirmed)).toBe(true)
  })
})

it('quick stop comes first and NMT pre-operational last', () => {
  const buses = playUntil(6)
  const sent: { id: number; word: number | undefined; t: number }[] = []
  const heard = rig.mocks[0]!.attach('ear')
  const from = rig.time.now()
  heard.onFrame((f, t) => {
    if (f.id === 0x181 || f.id === 0) sent.push({ id: f.id, word: f.data[0], t: (t - from) / MS })
  })
  const halt = new Halt(rig.rig, buses, { feed: true })
  halt.begin(from)
  run(halt)
  rig.time.runUntil(rig.time.now() + 10 * MS)
  expect(sent[0]).toMatchObject({ id: 0x181, word: 0x02 })
  expect(sent.at(-1)).toMatchObject({ id: 0, word: 0x80 })
  expect(sent.filter((s) => s.id === 0)).toHaveLength(1)
})

describe('where the driver owns the buses', () => {
  /** A driver moves the arms; then the bench is heard of no more. */
  function owned(options: ConstructorParameters<typeof Halt>[2], faults: Record<string, unknown> = {}) {
    // No process of the bench's own: what is left of the bench, which still hears, ends nothing.
    const run = new OwnedBench({
      rigText: DEMO_RIG,
      scenario: scenarioText('slow-ahead'),
      faults,
      ours: false,
    })
    rig = run.table
    run.at(1)
    // It sees its drives leave operation, and leaves them alone.
    rig.time.at(rig.time.now() + MS, () => run.driver.tell('stop', { surge: 0, yaw: 0 }))
    const sent: number[] = []
    const halt = new Halt(
      rig.rig,
      rig.mocks.map((mock) => {
        const port = mock.attach('another')
        return between(port, {
          send: (frame) => {
            sent.push(frame.id)
            return port.send(frame)
          },
        })
      }),
      options,
    )
    halt.begin(rig.time.now())
    return { owner: run, halt, sent }
  }

  it('the stop alone is sent while it sends SYNC, which lets every drive confirm', () => {
    const { halt, sent } = owned({ feed: false }, { noHeartbeat: true })
    run(halt)
    expect(halt.drives(rig.time.now()).every(confirmed)).toBe(true)
    expect(new Set(sent)).toEqual(new Set([0x181]))
  })

  it('and from the guardian its heartbeat, until the driver is known to be gone', () => {
    const { owner, halt, sent } = owned({ feed: true })
    run(halt, () => false, 0.05)
    expect(new Set(sent)).toEqual(new Set([0x181, 0x77f]))
    owner.dead = true
    halt.own()
    sent.length = 0
    run(halt)
    expect(sent).toContain(0x80)
    expect(sent.at(-1)).toBe(0)
    expect(halt.drives(rig.time.now()).every(confirmed)).toBe(true)
  })

  it('that has fallen silent drives are asked, and are left as they are at the end', () => {
    const { owner, halt, sent } = owned({ feed: false })
    owner.dead = true
    run(halt, () => false, 0.45)
    expect(new Set(sent)).toEqual(new Set([0x181]))
    run(halt)
    expect(halt.drives(rig.time.now()).every(confirmed)).toBe(true)
    expect(sent).toContain(0x60b)
    expect(sent).not.toContain(0)
    expect(sent).not.toContain(0x80)
  })
})
