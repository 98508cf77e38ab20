/** The rig and the scenario of a kill. */
import { readFileSync } from 'node:fs'
import { slowRigText } from './slow-rig.mjs'

const root = new URL('../../../', import.meta.url)

/** Strokes as fast as the demo's arms bear, from the first moment on. */
export const SCENARIO = `name: kill
about: Both sides pull ahead until the bench process is killed.
duration: "60 s"
commands:
  - { at: "0 s", surge: "0.45 m/s", yaw: "0 deg/s", over: "0.3 s" }
expect:
  outcome: finish
  strokes: [{ arm: port, direction: ahead, least: 1 }]
  parked: true
`

/**
 * The demo's rig on other buses. The drives do not stop by themselves, and the bench does not mind feedback that a busy machine
 * makes late, so that nothing but the guardian stops the arms. The sag window is short, so that hundreds of kills do not take
 * hours, and longer than a joint that the brakes moved a last time must be still for to be seen at rest again.
 *
 * `patient`: for tests that are not about times: the guardian does not mind what a machine with too much to do makes late either.
 * `slow`: for user-mode Linux.
 */
export function rigText(
  addresses,
  { sagWindow = '0.5 s', slow = false, guardian = '100 ms', patient = false } = {},
) {
  let bus = 0
  const text = readFileSync(new URL('rigs/reservoir-skiff.yaml', root), 'utf8')
    .replace(/address: mock/g, () => `address: ${addresses[bus++]}`)
    .replace('watchdog: true', 'watchdog: false')
    .replace('sag-window: "2 s"', `sag-window: "${sagWindow}"`)
  if (patient) return patientRigText(text)
  const rig = text.replace('approach: "15 %"', 'approach: "60 %"')
  return slow ? slowRigText(rig, guardian) : lenientRigText(rig, guardian)
}

/** What the bench itself would stop for does not stop it so soon. */
function lenientRigText(text, guardian) {
  return `${text
    .replace('window: "10 deg"', 'window: "90 deg"')
    .replace(/stale-after: .*/, 'stale-after: "300 ms"')
    .replace(/heartbeat-timeout: .*/, 'heartbeat-timeout: "1 s"')
    .replace(/^watch: .*/m, LENIENT_WATCH)}
guardian: { timeout: "${guardian}" }
realtime: { late: "100 ms", most-late: 1000 }
`
}

const LENIENT_WATCH =
  'watch: { bus: { period: "1000 %", lost: "100 %", doubled: "100 %", late: "100 %" }, silence: { periods: 60, heartbeats: 20 }, tracking: { window: "90 deg", timeout: "2 s" }, limits: { speed: { window: 31 }, acceleration: { window: 31 } } }'

function patientRigText(text) {
  return `${text
    .replace('rate: "200 Hz"', 'rate: "50 Hz"')
    .replace('speed-cap: "100 %"', 'speed-cap: "20 %"')
    .replace('window: "10 deg"', 'window: "90 deg"')
    .replace('patience: "2 s"', 'patience: "20 s"')
    .replace('sag-window:', 'answer: "1 s"\n  sag-window:')
    .replace(/stale-after: .*/, 'stale-after: "1 s"\n  reply-within: "200 ms"')
    .replace(/heartbeat-timeout: .*/, 'heartbeat-timeout: "2 s"')
    .replace(
      /^watch: .*/m,
      'watch: { bus: { period: "1000 %", lost: "100 %", doubled: "100 %", late: "100 %" }, silence: { periods: 40, heartbeats: 20 }, tracking: { window: "90 deg", timeout: "2 s" } }',
    )}
guardian: { timeout: "500 ms" }
realtime: { late: "100 ms", most-late: 1000 }
`
}
