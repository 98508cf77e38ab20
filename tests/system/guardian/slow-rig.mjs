/**
 * The demo's rig for one slow processor that carries bench, guardian, arms and witnesses at once, as in user-mode Linux: 25
 * setpoints a second, and patience in proportion. Counts are not loosened.
 * @param {string} text of the demo's rig
 * @param {string} guardian its time-out, at least three periods
 */
export function slowRigText(text, guardian) {
  for (const [from, to] of SLOWER) {
    if (!from.test(text)) throw new Error(`the demo's rig has no ${from}`)
    text = text.replace(from, to)
  }
  return `${text}
realtime: { late: "500 ms", most-late: 1000 }
guardian: { timeout: "${guardian}" }
`
}

/** @type {readonly (readonly [RegExp, string])[]} */
const SLOWER = [
  [/rate: "200 Hz"/, 'rate: "25 Hz"'],
  [/our-heartbeat: .*/, 'our-heartbeat: "100 ms"'],
  [/drive-heartbeat: .*/, 'drive-heartbeat: "100 ms"'],
  [/heartbeat-timeout: .*/, 'heartbeat-timeout: "1 s"'],
  [/ window: .*/, ' window: "40 deg"'],
  [/ window-timeout: .*/, ' window-timeout: "1 s"'],
  [/^stop:$/m, 'stop:\n  answer: "1 s"'],
  [/patience: .*/, 'patience: "20 s"\n  reply-within: "2 s"'],
  [/stale-after: .*/, 'stale-after: "800 ms"'],
  [
    /^watch: .*/m,
    'watch: { bus: { period: "1000 %", lost: "100 %", doubled: "100 %", late: "100 %" }, silence: { periods: 40, heartbeats: 50 }, tracking: { window: "90 deg", timeout: "2 s" }, limits: { speed: { window: 31 }, acceleration: { window: 31 } } }',
  ],
]
