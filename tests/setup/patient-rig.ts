/** The demo rig for real processes on machines that are busy with other things: a slow loop, and time for everything. */
import { change, DEMO_RIG } from './runs.js'

export const PATIENT_RIG = [
  [/rate: "200 Hz"/, 'rate: "25 Hz"'],
  [/our-heartbeat: .*/, 'our-heartbeat: "100 ms"'],
  [/drive-heartbeat: .*/, 'drive-heartbeat: "100 ms"'],
  [/heartbeat-timeout: .*/, 'heartbeat-timeout: "1 s"'],
  [/ window: .*/, ' window: "40 deg"'],
  [/window-timeout: .*/, 'window-timeout: "1 s"'],
  [/patience: .*/, 'patience: "10 s"\n  reply-within: "2 s"'],
  [/stale-after: .*/, 'stale-after: "800 ms"'],
  [/stop:\n/, 'stop:\n  answer: "1 s"\n'],
  [
    /^watch: .*/m,
    `realtime: { late: "500 ms", most-late: 1000, fifo: false }
guardian: { timeout: "1 s" }
watch:
  bus: { period: "1000 %", lost: "100 %", doubled: "100 %", late: "100 %" }
  silence: { periods: 40, heartbeats: 50 }
  tracking: { window: "30 deg", timeout: "2 s" }
  setpoints: { uneven: "100 %", repeated: "100 %", silent: "2 s" }`,
  ],
].reduce((text, [from, to]) => change(text, from as RegExp, to as string), DEMO_RIG)
