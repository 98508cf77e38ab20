/** A simulated drive that speaks a frame map, on a bus of its own with a host in the test's hand. */
import { readFileSync } from 'node:fs'
import { beforeEach, describe, expect, it } from 'vitest'
import { MockBus } from '../../../src/bus/mock.js'
import { nanos, VirtualTime } from '../../../src/clock.js'
import { loadRig } from '../../../src/files/load.js'
import { createPlant } from '../../../src/plant/plant.js'
import { type Frame, frame } from '../../../src/wire/frame.js'
import { change } from '../../setup/runs.js'
import { watchSchemas } from '../files/watch-schemas.js'

const TEXT = readFileSync(new URL('../files/small-frames-rig.yaml', import.meta.url), 'utf8')
const DEG = Math.PI / 180

class Host {
  readonly time = new VirtualTime()
  readonly heard: Frame[] = []
  readonly plant
  readonly #port
  readonly #truth = new Float64Array(2)

  constructor(text = TEXT) {
    const rig = loadRig(text, 'small-frames-rig.yaml', watchSchemas)
    const mocks = rig.buses.map((bus) => new MockBus(this.time, bus))
    this.plant = createPlant(
      rig,
      this.time,
      (bus, name) => mocks[bus]!.attach(name, { order: 'by identifier' }),
      1,
    )
    this.#port = mocks[0]!.attach('host')
    this.#port.onFrame((f) => this.heard.push(f))
  }

  send(id: number, ...data: number[]): void {
    this.#port.send(frame(id, Uint8Array.from(data)))
  }

  /** Setpoint of node 1 in steps of 0.002 deg, lowest byte first, XOR behind. */
  setpoint(steps: number, spoil = 0): void {
    const bytes = [steps & 0xff, (steps >> 8) & 0xff, (steps >> 16) & 0xff]
    this.send(0x141, ...bytes, bytes[0]! ^ bytes[1]! ^ bytes[2]! ^ spoil)
  }

  pass(s: number): void {
    this.time.runUntil(this.time.now() + nanos(s))
  }

  /** Last feedback of node 1, after asking: position in steps, state number, slowing. */
  ask(): { steps: number; state: number; slowing: number } {
    this.heard.length = 0
    this.send(0x0c0)
    this.pass(0.002)
    const { data } = this.heard.find((f) => f.id === 0x181)!
    return {
      steps: ((data[0]! << 24) >> 8) | (data[1]! << 8) | data[2]!,
      state: data[3]! & 15,
      slowing: data[4]!,
    }
  }

  /** rad, where the joint truly is */
  truth(): number {
    this.plant.witness(this.time.now(), this.#truth)
    return this.#truth[0]!
  }
}

// swing stands at 5 deg; its zero is at 3600 steps, so it says 6100 steps.
let host: Host
beforeEach(() => {
  host = new Host()
})

/** Enabled, with a setpoint every 5 ms that runs at `speed` steps a cycle. */
function drive(cycles: number, speed: number, from = 6100): number {
  let steps = from
  for (let i = 0; i < cycles; i++) {
    steps += speed
    host.setpoint(steps)
    host.pass(0.005)
  }
  return steps
}

function enable(): void {
  host.setpoint(6100)
  host.send(0x201, 1)
  host.pass(0.002)
}

describe('a simulated drive that speaks a frame map', () => {
  it('answers a request with its position and state', () => {
    const { steps, state, slowing } = host.ask()
    // One step of encoder noise.
    expect(Math.abs(steps - 6100)).toBeLessThanOrEqual(5)
    expect([state, slowing]).toEqual([0, 0])
  })

  it('counts its frames', () => {
    const counts = [1, 2, 3].map(() => {
      host.ask()
      return host.heard.find((f) => f.id === 0x181)!.data[3]! >> 4
    })
    expect(counts).toEqual([1, 2, 3])
  })

  it('follows setpoints once it is enabled, and not before', () => {
    drive(20, 50)
    expect(host.truth()).toBeCloseTo(5 * DEG, 6)
    enable()
    const steps = drive(100, 20)
    drive(60, 0, steps)
    // 6100 + 2000 steps are 9 deg.
    expect(host.truth() / DEG).toBeCloseTo(9, 1)
    expect(host.ask().state).toBe(1)
  })

  it.each([
    ['a wrong checksum', (h: Host, s: number) => h.setpoint(s, 1)],
    ['another length', (h: Host) => h.send(0x141, 0, 0, 0)],
    ['the identifier of its neighbour', (h: Host) => h.send(0x142, 0xb4, 0x28, 0x00, 0x9c)],
  ])('does not move for setpoints with %s', (_, send) => {
    enable()
    for (let i = 0; i < 4; i++) {
      send(host, 10420)
      host.pass(0.005)
    }
    expect(host.truth() / DEG).toBeCloseTo(5, 3)
  })

  it('an old setpoint counts when it is enabled: the arm jumps for whoever has not refreshed it', () => {
    host.setpoint(7100)
    host.pass(0.5)
    host.send(0x201, 1)
    host.pass(0.02)
    expect(host.truth() / DEG).toBeGreaterThan(5.1)
  })

  it('slows down on its own ramp when told to stop, confirms it, is off at rest; a late enable does not take that back', () => {
    enable()
    const steps = drive(40, 100)
    const before = host.truth()
    host.send(0x010)
    host.pass(0.001)
    expect(host.ask()).toMatchObject({ state: 1, slowing: 1 })
    host.send(0x201, 1)
    host.setpoint(steps + 1000)
    host.pass(0.3)
    expect(host.ask()).toMatchObject({ state: 0, slowing: 0 })
    // 40 deg/s against 1500 deg/s2: half a degree and a little.
    expect((host.truth() - before) / DEG).toBeGreaterThan(0.2)
    expect((host.truth() - before) / DEG).toBeLessThan(1)
  })

  it('gives its torque up at once when disabled', () => {
    enable()
    host.send(0x011)
    host.pass(0.001)
    expect(host.ask()).toMatchObject({ state: 0, slowing: 0 })
  })

  it('stops by itself when setpoints cease, into fault, and a reset ends that', () => {
    enable()
    drive(40, 100)
    const before = host.truth()
    host.pass(0.3)
    expect(host.ask().state).toBe(7)
    // Up to 25 ms at 40 deg/s until it notices, then its ramp.
    expect((host.truth() - before) / DEG).toBeLessThan(2)
    const rest = host.truth()
    host.pass(1)
    expect(host.truth()).toBeCloseTo(rest, 9)
    host.send(0x201, 1)
    host.pass(0.01)
    expect(host.ask().state).toBe(7)
    host.send(0x201, 2)
    host.pass(0.01)
    expect(host.ask().state).toBe(0)
  })

  it('whose watchdog the rig takes away goes on holding', () => {
    host = new Host(change(TEXT, 'simulation:\n', 'simulation:\n  watchdog: false\n'))
    enable()
    drive(4, 0)
    host.pass(1)
    expect(host.ask().state).toBe(1)
  })

  it('without power neither hears nor speaks, and knows of no setpoint when it is back', () => {
    enable()
    const fault = { fault: 'unpowered', place: 0, other: -1, amount: 0 } as const
    host.plant.fault(fault, true)
    host.heard.length = 0
    host.send(0x0c0)
    host.setpoint(9000)
    host.pass(0.01)
    expect(host.heard.filter((f) => f.id === 0x181)).toEqual([])
    host.plant.fault(fault, false)
    expect(host.ask().state).toBe(0)
    host.send(0x201, 1)
    host.pass(0.1)
    // It sank a little before its brake took hold; 9000 steps would be 10.8 deg.
    expect(host.truth() / DEG).toBeCloseTo(5, 1)
  })

  it('has a truth of its own: a scale of the map that is wrong does not change what it sends', () => {
    host = new Host(TEXT.replaceAll('scale: "0.002 deg"', 'scale: "0.004 deg"'))
    expect(Math.abs(host.ask().steps - 6100)).toBeLessThanOrEqual(5)
  })

  it('sends by itself once a period where the map has no request', () => {
    host = new Host(
      change(change(TEXT, / {4}request.*\n/, ''), 'bytes: 5\n', 'bytes: 5\n      every: "5 ms"\n'),
    )
    host.pass(0.1)
    const own = host.heard.filter((f) => f.id === 0x181)
    expect(own.length).toBeGreaterThanOrEqual(19)
    expect(own.length).toBeLessThanOrEqual(20)
  })
})
