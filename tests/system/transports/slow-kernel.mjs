/**
 * What a rig, a scenario and a process need in user-mode Linux (tests/system/uml), which is one slow processor: limits on time are
 * wide, never counts. And a rig that another driver leads there.
 */
import { fileURLToPath } from 'node:url'
import { JAVASCRIPT, OVAL, PYTHON } from '../../setup/example-drivers.mjs'

/**
 * A system call costs 20 us there, reading the clock 30 us, and each frame some ten of them in each process, so that 20 control periods
 * a second are what it carries with room to spare. A period of 50 ms instead of 5 ms widens what counts periods: ages of feedback and
 * heartbeats, time-outs, and the angles that a joint is behind its setpoint.
 */
const WIDE = `realtime: { late: "500 ms", most-late: 1000 }
guardian: { timeout: "1 s" }
watch:
  bus: { period: "1000 %", lost: "100 %", doubled: "100 %", late: "100 %" }
  silence: { periods: 10, heartbeats: 5 }
  tracking: { window: "20 deg", timeout: "500 ms" }
  reversal: { warning: "4 deg", failure: "20 deg" }
  sense: { travel: "0.15 m" }`

/**
 * A page that a process touches for the first time costs that kernel 0.13 ms: processes are to keep the memory that they have.
 * Otherwise the loop stands still for half a second while V8 fills the half of its young generation that it had given back.
 */
export const FEW_FAULTS = {
  NODE_OPTIONS: '--max-semi-space-size=1',
  MALLOC_ARENA_MAX: '1',
  MALLOC_TRIM_THRESHOLD_: '1000000000',
  MALLOC_MMAP_THRESHOLD_: '1000000000',
  MALLOC_TOP_PAD_: '4000000',
}

const OWNING = fileURLToPath(new URL('../drivers/owning.mjs', import.meta.url))

/** Before a driver's program: below the loop and above the arms, or its answer waits behind their frames for most of a period. */
const SOON = ['chrt', '--fifo', '46']

/** A driver's program, and what its rig has beside WIDE: lines of the sections driver and watch. @param file of the rig */
const LEADS = {
  javascript: () => ({ run: [...SOON, ...JAVASCRIPT], driver: ['answer: "1 s"'], watch: [OVAL] }),
  python: () => ({ run: [...SOON, ...PYTHON], driver: ['answer: "1 s"'], watch: [OVAL] }),
  owning: (file) => ({
    run: ['node', OWNING, file, 'none', 'can:vcan0', 'can:vcan1'],
    driver: ['owns-bus: true'],
    watch: ['owner: { sync: 20, obey: "1 s" }'],
    // It has every frame of both buses to read, and SYNC to give besides.
    rate: '12.5 Hz',
  }),
}
/** Names of drivers beside the reference driver, which is asked for by none. */
export const DRIVERS = Object.keys(LEADS)

/** A repeated setpoint and one off its beat are this kernel's doing; the last gate bears no more than anywhere. */
const UNEVEN = 'setpoints: { uneven: "100 %", repeated: "100 %", silent: "2 s" }'

/**
 * @param text of a rig
 * @param file where the text that is returned will stand
 * @param driver one of DRIVERS, or undefined
 */
export function widened(text, file, driver) {
  const changes = [
    [/rate: "200 Hz"/, 'rate: "20 Hz"'],
    [/every: "5 ms"/, 'every: "50 ms"'],
    [/our-heartbeat: .*/, 'our-heartbeat: "200 ms"'],
    [/drive-heartbeat: .*/, 'drive-heartbeat: "500 ms"'],
    [/heartbeat-timeout: .*/, 'heartbeat-timeout: "2 s"'],
    [/ window: .*/, ' window: "75 deg"'],
    [/window-timeout: .*/, 'window-timeout: "1 s"'],
    [/patience: .*/, 'patience: "10 s"\n  reply-within: "500 ms"'],
    [/stale-after: .*/, 'stale-after: "800 ms"'],
    [/jitter: .*?,/, 'jitter: "0 us",'],
    [/^watch: .*/m, WIDE],
  ]
  const wide = changes.reduce((changed, [from, to]) => changed.replace(from, to), text)
  return driver === undefined ? wide : ledBy(LEADS[driver](file), wide)
}

function ledBy({ run, driver, watch, rate = '20 Hz' }, text) {
  // A program takes seconds to start in there.
  const led = ['kind: process', `run: ${JSON.stringify(run)}`, 'handshake: "40 s"', ...driver]
  const lines = (list) => list.map((line) => `  ${line}\n`).join('')
  return text
    .replace('rate: "20 Hz"', `rate: "${rate}"`)
    .replace('  kind: reference\n', () => lines(led))
    .replace('watch:\n', () => `watch:\n${lines([UNEVEN, ...watch])}`)
    .replace('stop:\n', 'stop:\n  answer: "1 s"\n')
}

/** Of a scenario's text: time for a stop. */
export function patient(text) {
  return text.replace(/^( +(?:within|still)): .*/gm, '$1: "3 s"')
}
