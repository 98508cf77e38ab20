/**
 * Kills bench processes at seeded random phases of the stroke and measures how long the arms move on, by their own truth.
 *
 * node tests/system/guardian/kills.mjs [--count 300] [--seed 1] [--manner kill,freeze,loop] [--bus tcp | --bus vcan0,vcan1 [--guardian '100 ms']] [--json]
 *
 * Interfaces are the kernel's: tests/system/uml/inside.sh --limit 3600 node tests/system/guardian/kills.mjs --bus vcan0,vcan1. There
 * starts are repeated often where the machine has other things to do: the guardian takes over, rightly, when no tick comes in time.
 *
 * Exit status 1 when one of the kills left a joint moving, a drive with torque, or a bench process alive. Times are printed,
 * never asserted: this machine may be busy with other things.
 */
import { cpus, loadavg } from 'node:os'
import { parseArgs } from 'node:util'
import { randomStream } from '../../../dist/random.js'
import { Arms, TooLate, trial } from './trial.mjs'

const { values: given } = parseArgs({
  options: {
    count: { type: 'string', default: '300' },
    seed: { type: 'string', default: '1' },
    manner: { type: 'string', default: 'kill,freeze,loop' },
    bus: { type: 'string', default: 'tcp' },
    guardian: { type: 'string', default: '100 ms' },
    json: { type: 'boolean', default: false },
  },
})
const count = Number(given.count)
const manners = given.manner.split(',')
/** Scenario time of the kill, s: a little more than one stroke, at full speed. */
const [FIRST, LAST] = [0.8, 4]
/** New arms after so many kills: a machine that was away for a while must not spoil the rest. */
const FRESH_ARMS = 50
/** Starts that a busy machine spoils before the kill, in a row. */
const MOST_REPEATS = 50

const phase = randomStream(Number(given.seed), 'kills')
const trials = []
let repeats = 0
let arms = null
for (let i = 0; i < count; i++) {
  if (i % FRESH_ARMS === 0) {
    arms?.end()
    arms = await Arms.start(given.bus, { guardian: given.guardian })
  }
  const at = FIRST + (LAST - FIRST) * phase.uniform()
  for (let again = 0; ; again++) {
    try {
      trials.push(await trial(arms, manners[i % manners.length], at))
      break
    } catch (error) {
      if (!(error instanceof TooLate) || again === MOST_REPEATS) throw error
      repeats++
      process.stderr.write(`start repeated: ${error.message.slice(0, 200)}\n`)
    }
  }
  const { manner, cause, detected, still, off, moving } = trials.at(-1)
  process.stderr.write(
    `${i + 1}: ${manner} at ${at.toFixed(3)} s, ${moving} joints moving: ${cause}, seen after ${detected.toFixed(1)} ms, still ${still.toFixed(1)} ms, off ${off.toFixed(1)} ms\n`,
  )
}
arms?.end()

const wrong = trials.filter((t) => t.confirmed !== t.drives || !t.gone || t.benchEnded !== 'SIGKILL')
const figures = (name, list) => {
  const of = (what) => {
    const sorted = list.map((t) => t[what]).toSorted((a, b) => a - b)
    const at = (share) =>
      Number(sorted[Math.min(sorted.length - 1, Math.ceil(share * sorted.length) - 1)].toFixed(1))
    return { p50: at(0.5), p99: at(0.99), worst: at(1) }
  }
  return {
    manner: name,
    bus: given.bus,
    kills: list.length,
    detectedMs: of('detected'),
    stopSentMs: of('stopSent'),
    lastJointStillMs: of('still'),
    lastDriveOffMs: of('off'),
  }
}
const result = {
  seed: Number(given.seed),
  fifo: trials.every((t) => t.fifo),
  startsRepeated: repeats,
  load: loadavg().map((l) => Number(l.toFixed(1))),
  processors: cpus().length,
  moving: trials.filter((t) => t.moving > 0).length,
  wrong: wrong.length,
  figures: [
    ...manners.map((m) =>
      figures(
        m,
        trials.filter((t) => t.manner === m),
      ),
    ),
    figures('all', trials),
  ],
}
if (given.json) process.stdout.write(`${JSON.stringify({ ...result, trials }, null, 2)}\n`)
else {
  process.stdout.write(
    `${count} kills, seed ${result.seed}, ${result.fifo ? 'guardian at FIFO 60 and bench at 50' : 'without real-time priority'}, load ${result.load[0]} on ${result.processors} processors, ${repeats} starts repeated, ${wrong.length} wrong\n`,
  )
  process.stdout.write(
    'ms from the kill           last joint still       last drive off        stop handed over\n',
  )
  for (const f of result.figures) {
    const cell = ({ p50, p99, worst }) => `${p50} / ${p99} / ${worst}`.padEnd(22)
    process.stdout.write(
      `${f.manner.padEnd(8)}${f.bus.padEnd(8)}${String(f.kills).padStart(5)}      ${cell(f.lastJointStillMs)} ${cell(f.lastDriveOffMs)} ${cell(f.stopSentMs)}\n`,
    )
  }
  process.stdout.write('                           (p50 / p99 / worst)\n')
}
for (const t of wrong) process.stderr.write(`${JSON.stringify(t)}\n`)
process.exitCode = wrong.length === 0 && trials.length === count ? 0 : 1
