/**
 * A bench process reduced to what the guardian is about: the real bench in real time on real buses, without recording, judge
 * and parent. It says on standard output, a JSON value a line, what stage it is in. The order `end` on standard input ends the
 * run in good order.
 *
 * node reduced-bench.mjs '{"rigText": ..., "scenarioText": ..., "base": [s, ns], "folder": ..., "disobey": false}'
 */
import { openSync, writeSync } from 'node:fs'
import { createInterface } from 'node:readline'
import { Bench } from '../../../dist/bench/bench.js'
import { beat } from '../../../dist/bench/realtime/beat.js'
import { openBus } from '../../../dist/bus/open.js'
import { RealTime } from '../../../dist/clock.js'
import { ReferenceDriver } from '../../../dist/driver/reference.js'
import { loadRig, loadScenario } from '../../../dist/files/load.js'
import { raise } from '../../../dist/stop/guardian/priority.js'
import { startGuardian } from '../../../dist/stop/guardian/start.js'
import { confirmed } from '../../../dist/stop/halt.js'
import { watchSchemas } from '../../../dist/watch/settings.js'

const { rigText, scenarioText, base, folder, disobey, neverTick, buses: which } = JSON.parse(process.argv[2])
const rig = loadRig(rigText, 'rig.yaml', watchSchemas)
const scenario = loadScenario(scenarioText, 'scenario.yaml', rig)
const clock = new RealTime(base)
const say = (value) => writeSync(1, `${JSON.stringify(value)}\n`)

// Without buses: the lines are taken, and the guardian must refuse by itself.
const buses =
  which === 'none'
    ? rig.buses.map(() => ({ descriptor: openSync('/dev/null', 'r+') }))
    : await Promise.all(rig.buses.map((settings) => openBus(settings, clock)))
let asked = false
let reported = false
let bench = null
const guardian = await startGuardian({
  rig,
  buses,
  clock,
  folder,
  onStopAsked: () => {
    if (disobey) return
    bench.onStop({ source: 'command', says: 'drystroke stop was called in another terminal' })
    asked = true
    guardian.obeyed()
  },
  onLost: (says) => {
    say({ lost: says, t: clock.now() })
    bench.onStop({ source: 'guardian', says })
  },
})
// As the real one does: below the guardian, or not at all.
const fifo = guardian.fifo !== null && raise(50)
say({ guardian: guardian.pid, fifo })
bench = new Bench({
  rig,
  scenario,
  seed: 1,
  clock,
  buses,
  driver: new ReferenceDriver(rig),
  plant: null,
  log: {
    frame: () => {},
    event: (e) => {
      if (e.kind === 'stage' || e.kind === 'stop' || e.kind === 'refusal' || e.kind === 'end') say(e)
    },
  },
})

createInterface({ input: process.stdin }).on('line', (line) => {
  if (line === 'end') bench.onSignal('SIGTERM')
})

function tick(late, missed) {
  bench.tick(late, missed)
  guardian.beat(bench.stopCounts)
  if (asked && !reported) {
    const drives = bench.confirmations()
    // Before the good-bye at the latest: those who asked are told what is known then.
    if (bench.ended || drives.every(confirmed)) {
      reported = true
      guardian.report(drives.map((d) => ({ ...d, sag: null })))
    }
  }
  if (bench.ended) guardian.end().then(() => process.exit(0))
  return !bench.ended
}
if (neverTick) setInterval(() => {}, 1000)
// As the real one does: two ticks that came close together would find the setpoints of the first still waiting.
else beat({ scheduler: clock, period: rig.control.period * 1e9, tick })
