/**
 * Kills the bench processes of real runs at seeded random phases of the stroke and measures how long the arms moved on, by
 * their own truth; in between, the arms run on at the speed that they had.
 *
 *     npm run test:kill -- [--count 300] [--seed 1] [--manner kill,freeze,loop] [--bus tcp|pty|vcan0,vcan1]
 *                          [--guardian '100 ms'] [--arms run-on|hold] [--json]
 *
 * Other manners: half (killed with half a line on the way) and full (transmit queues full, nothing taken), on tcp and pty.
 * Interfaces are the kernel's, one slow processor where the guardian's time-out is 1 s if not given: tests/system/uml/inside.sh --limit 3600 node tests/system/guardian/kills.mjs --bus vcan0,vcan1 --count 3.
 *
 * Exit status 1 when one of the kills left a joint moving, a drive with power or a bench process alive, was not confirmed by
 * 12 of 12 drives, or was judged as anything but incomplete. Times are printed, never asserted: this machine may be busy with
 * other things. So it is when a run is stopped before its kill: it is repeated, and counted.
 */
import { cpus, loadavg } from 'node:os'
import { parseArgs } from 'node:util'
import { randomStream } from '../../../dist/random.js'
import { KillArms } from './kill-arms.mjs'
import { MANNERS, trialInTime } from './trial.mjs'

const { values: given } = parseArgs({
  options: {
    count: { type: 'string', default: '300' },
    seed: { type: 'string', default: '1' },
    manner: { type: 'string', default: 'kill,freeze,loop' },
    bus: { type: 'string', default: 'tcp' },
    guardian: { type: 'string' },
    arms: { type: 'string', default: 'run-on' },
    json: { type: 'boolean', default: false },
  },
})
const count = Number(given.count)
const manners = given.manner.split(',')
const unknown = manners.filter((m) => !(m in MANNERS))
const lines = given.bus === 'tcp' || given.bus === 'pty'
// One slow processor carries all processes there: the guardian must not take over when nothing is wrong.
const guardian = given.guardian ?? (lines ? '100 ms' : '1 s')
const without = lines ? [] : manners.filter((m) => m === 'half' || m === 'full')
if (!(count > 0) || unknown.length > 0 || without.length > 0 || !['run-on', 'hold'].includes(given.arms)) {
  console.error(
    without.length > 0
      ? `--manner ${without}: an interface has no lines to be cut, and a vcan takes everything; these are for tcp and pty`
      : `--manner is of ${Object.keys(MANNERS)}, --count a number, --arms run-on or hold`,
  )
  process.exit(2)
}
/** s of the scenario: a little more than one stroke, at full speed. */
const [FIRST, LAST] = [0.8, 4]
/** New arms after so many kills: a machine that was away for a while must not spoil the rest. */
const FRESH_ARMS = 50

const phase = randomStream(Number(given.seed), 'kills')
const trials = []
let repeats = 0
let arms = null
let interrupted = false
process.once('SIGINT', () => {
  interrupted = true
})
const repeated = (says) => {
  repeats++
  process.stderr.write(`start repeated: ${says.slice(0, 300)}\n`)
}
const began = performance.now()
for (let i = 0; i < count && !interrupted; i++) {
  if (i % FRESH_ARMS === 0) {
    await arms?.end()
    arms = await KillArms.start(given.bus, { guardian, kind: given.arms === 'hold' })
  }
  const at = FIRST + (LAST - FIRST) * phase.uniform()
  try {
    trials.push(await trialInTime(arms, manners[i % manners.length], at, repeated))
  } catch (error) {
    await arms.end()
    throw error
  }
  const t = trials.at(-1)
  const ms = (value) => `${value.toFixed(1)} ms`
  process.stderr.write(
    `${i + 1}: ${t.manner} at ${t.scenarioTime.toFixed(3)} s, ${t.moving} joints moving: ${t.cause}, seen after ${ms(t.detected)}, stop ${ms(t.stopSent)}, still ${ms(t.still)}, off ${ms(t.off)}${t.manner === 'full' ? ` (${ms(t.offAfterRoom)} after frames were taken again)` : ''}${t.wrong.length > 0 ? `  WRONG, not so: ${t.wrong.join('; ')}` : ''}\n`,
  )
}
await arms?.end()

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
    lastDriveOffAfterRoomMs: of('offAfterRoom'),
  }
}
const wrong = trials.filter((t) => t.wrong.length > 0)
const rows = manners
  .map((m) => [m, trials.filter((t) => t.manner === m)])
  .filter(([, list]) => list.length > 0)
const result = {
  seed: Number(given.seed),
  guardian,
  arms: given.arms,
  scheduling: [...new Set(trials.map((t) => t.scheduling))],
  startsRepeated: repeats,
  secondsATrial: Number(((performance.now() - began) / 1000 / trials.length).toFixed(1)),
  load: loadavg().map((l) => Number(l.toFixed(1))),
  processors: cpus().length,
  wrong: wrong.length,
  figures: [...rows.map(([m, list]) => figures(m, list)), figures('all', trials)],
}
if (given.json) process.stdout.write(`${JSON.stringify({ ...result, trials }, null, 2)}\n`)
else {
  process.stdout.write(
    `${trials.length} kills of drystroke run, seed ${result.seed}, guardian's time-out ${guardian}, bench ${result.scheduling.join(' or ')}, arms that ${given.arms === 'hold' ? 'hold the last setpoint' : 'run on'}, load ${result.load[0]} on ${result.processors} processors, ${repeats} starts repeated, ${result.secondsATrial} s a kill, ${wrong.length} wrong\n`,
  )
  process.stdout.write(
    'ms from the kill             last joint still       last drive off         stop handed over\n',
  )
  for (const f of result.figures) {
    const cell = ({ p50, p99, worst }) => `${p50} / ${p99} / ${worst}`.padEnd(22)
    const room = f.manner === 'full' ? `  off after room: ${cell(f.lastDriveOffAfterRoomMs)}` : ''
    process.stdout.write(
      `${f.manner.padEnd(8)}${f.bus.padEnd(12)}${String(f.kills).padStart(5)}    ${cell(f.lastJointStillMs)} ${cell(f.lastDriveOffMs)} ${cell(f.stopSentMs)}${room}\n`,
    )
  }
  process.stdout.write('                             (p50 / p99 / worst)\n')
}
for (const t of wrong) process.stderr.write(`${JSON.stringify(t)}\n`)
process.exitCode = wrong.length === 0 && trials.length === count ? 0 : 1
