/**
 * Stop reaction: from a feedback frame that breaks a limit to the stop frames, with every watch on. Each trial is a bench
 * that was brought to mid-scenario on simulated arms in virtual time and is then given one frame from the real line.
 *
 *   node --expose-gc --single-threaded-gc reaction.mjs mock|tcp|pty|can:IFACE TRIALS       the last line is JSON, times in ms
 *
 * inside: from the frame's time stamp (its bytes have arrived in this process) to the last stop frame handed to the system.
 * outside: from the far process's send to its receiving the quick stop, both ways through the system.
 */
import { fork, spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Bench } from '../../dist/bench/bench.js'
import { runLog } from '../../dist/bench/log.js'
import { MockBus } from '../../dist/bus/mock.js'
import { openBus } from '../../dist/bus/open.js'
import { nanos, RealTime, VirtualTime } from '../../dist/clock.js'
import { ReferenceDriver } from '../../dist/driver/reference.js'
import { parseBusAddress } from '../../dist/files/bus-address.js'
import { loadRig, loadScenario } from '../../dist/files/load.js'
import { createPlant } from '../../dist/plant/plant.js'
import { Judge } from '../../dist/verdict/judge.js'
import { watchSchemas } from '../../dist/watch/settings.js'
import { frame } from '../../dist/wire/frame.js'

const [kind, count] = process.argv.slice(2)
const trials = Number(count)
const file = (name) => readFileSync(new URL(`../../${name}`, import.meta.url), 'utf8')
const rig = loadRig(file('rigs/reservoir-skiff.yaml'), 'rig.yaml', watchSchemas)
const scenario = loadScenario(file('scenarios/slow-ahead.yaml'), 'scenario.yaml', rig)
// The arms start where the park pose is: the approach is short, and a trial takes milliseconds.
const driver = new ReferenceDriver(rig)
const start = { ...rig, simulation: { ...rig.simulation } }
start.simulation.joints = rig.simulation.joints.map((j, i) => ({ ...j, start: driver.parkPose[i] }))

/** Machine time that never goes back; a trial's virtual time is put on top of it. */
const real = new RealTime([0, 0])
const clock = {
  ahead: 0,
  virtual: null,
  now() {
    return this.ahead + (this.virtual ? this.virtual.now() : real.now())
  },
}
const machineTime = (t) => t - clock.ahead

const nobody = {
  onMessage: () => {},
  end: () => {},
}
const far = kind === 'mock' ? nobody : await farEnd(kind)
// The machine's own time: an adapter ties the kernel's stamps to it once, and the trials' time leaps.
const near = far.address ? await openBus({ ...rig.buses[0], address: far.address }, real) : null
let current = null
near?.onFrame((f, t) => current?.hear(f, clock.ahead + t))

/** A bus of simulated arms until the trial begins; from then on the first one is the line. */
function busOf(mock, index) {
  const port = mock.attach('bench')
  const listeners = []
  const live = () => near !== null && index === 0 && clock.virtual === null
  port.onFrame((f, t) => {
    for (const l of listeners) l(f, clock.ahead + t)
  })
  return {
    name: port.name,
    handed: 0,
    get state() {
      return port.state
    },
    get waiting() {
      return live() ? near.waiting : 0
    },
    send(f) {
      const result = live() ? near.send(f) : port.send(f)
      this.handed = real.now()
      return result
    },
    onFrame: (l) => listeners.push(l),
    hear(f, t) {
      for (const l of listeners) l(f, t)
    },
    only() {},
    onReport() {},
    withdraw: () => (live() ? near.withdraw() : port.withdraw()),
    close() {},
  }
}

/** A bench at 1 s of the scenario, on its own simulated arms. */
function benchInPlay() {
  const time = new VirtualTime()
  clock.ahead = clock.now()
  clock.virtual = time
  const mocks = rig.buses.map((b) => new MockBus(time, b))
  createPlant(start, time, (bus, name) => mocks[bus].attach(name, { order: 'by identifier' }), 1)
  const buses = mocks.map(busOf)
  const [bus] = buses
  const findings = []
  const judge = new Judge(rig, scenario, { onFinding: (f) => findings.push(f) })
  let bench
  const log = runLog({ frame() {}, event() {}, flush() {} }, judge, findings, {
    onFinding: (f) => bench.onFinding(f),
    onFailure: (error) => {
      throw error
    },
  })
  bench = new Bench({ rig, scenario, seed: 1, clock, buses, driver, plant: null, log })
  for (let k = 0; !(bench.scenarioTime > 0.2); k++) {
    if (k > 2000 || bench.ended) throw new Error(`the arms did not come into play: ${bench.stage}`)
    time.runUntil(nanos(k * rig.control.period))
    bench.tick()
  }
  // From here on it is the machine's time.
  const now = clock.now()
  clock.virtual = null
  clock.ahead = now - real.now()
  return { bench, bus }
}

const BAD = { id: 0x18b, data: [0x37, 0x16, 0, 0, 0, 0x40, 0, 0] } // port.swing at 2^30 counts
const inside = []
const outside = []
for (let n = 0; n < trials; n++) {
  const { bench, bus } = benchInPlay()
  current = bus
  // The garbage of a hundred start-ups a minute is this measurement's, not a run's (node --expose-gc).
  globalThis.gc?.({ type: 'minor' })
  if (near) {
    const answer = once(far.process, 'message')
    const arrived = new Promise((resolve) => {
      const hear = bus.hear
      bus.hear = (f, t) => {
        hear(f, t)
        resolve(t)
      }
    })
    far.process.send(BAD)
    const t = await arrived
    inside.push(bus.handed - machineTime(t))
    const [{ sentAt, heardAt }] = await answer
    outside.push(heardAt - sentAt)
  } else {
    // A process with a real-time priority that never rests is stopped for 50 ms in each second (sched(7)).
    await new Promise((resolve) => setTimeout(resolve, 2))
    const t = clock.now()
    bus.hear(frame(BAD.id, Uint8Array.from(BAD.data)), t)
    inside.push(bus.handed - machineTime(t))
  }
  if (bench.stage !== 'stopping') throw new Error(`trial ${n}: no stop, the stage is ${bench.stage}`)
}

function quantiles(times) {
  if (times.length === 0) return null
  times.sort((a, b) => a - b)
  const at = (q) => Number((times[Math.min(times.length - 1, Math.floor(q * times.length))] / 1e6).toFixed(4))
  return { p50: at(0.5), p99: at(0.99), 'p99.9': at(0.999), max: at(1) }
}

console.log(
  JSON.stringify({ kind, trials, 'inside, ms': quantiles(inside), 'outside, ms': quantiles(outside) }),
)
far.end()
near?.close()
process.exit(0)

async function farEnd(how) {
  const here = new URL('reaction-peer.mjs', import.meta.url)
  if (how === 'pty') {
    const folder = mkdtempSync(join(tmpdir(), 'drystroke-bench-'))
    const ends = [join(folder, 'a'), join(folder, 'b')]
    const socat = spawn(
      'socat',
      ends.map((e) => `pty,raw,echo=0,link=${e}`),
      { stdio: 'ignore' },
    )
    await new Promise((resolve) => setTimeout(resolve, 500))
    const process_ = fork(here, [ends[1]])
    await once(process_, 'message')
    return {
      process: process_,
      address: { kind: 'slcan', device: ends[0] },
      end() {
        process_.disconnect()
        socat.kill()
        rmSync(folder, { recursive: true, force: true })
      },
    }
  }
  const process_ = fork(here, [how])
  const [{ port }] = await once(process_, 'message')
  return {
    process: process_,
    address:
      how === 'tcp'
        ? parseBusAddress(`slcan:tcp:127.0.0.1:${port}`)
        : { kind: 'socketcan', interface: how.slice(4) },
    end: () => process_.disconnect(),
  }
}
