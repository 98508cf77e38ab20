/**
 * Latency of a driver under test in real time, by process, datagrams, WebSocket and serial line: a driver to copy leads simulated arms
 * under a command that changes twice a second, and the watch `driver` says how long it took. Beside each, in the same run: lines
 * of the same length that plain code sends at the same beat by the same way to a program that sends them back. Datagrams,
 * WebSocket and pseudo-terminal have one process more on the way (tests/setup/driver-bridge.mjs, socat), here and there.
 *
 * A driver that misses one beat in motion is stopped by the gate, and whatever else the machine does can make it miss one. So where
 * that is granted it and what carries its words have a real-time priority below the loop's, as README advises; both programs have it alike.
 *
 *   node tests/bench/driver-latency.mjs [seconds a measurement, default 20]       after npm run build; ms and Hz, as JSON
 */
import { spawn, spawnSync } from 'node:child_process'
import { createSocket } from 'node:dgram'
import { once } from 'node:events'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { cpus, loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { fileURLToPath } from 'node:url'
import { WebSocket } from 'ws'
import { openSerial } from '../../dist/bus/serial.js'
import { overPty, overUdp, overWebSocket } from '../setup/driver-bridge.mjs'
import { JAVASCRIPT, OVAL } from '../setup/example-drivers.mjs'

const root = fileURLToPath(new URL('../../', import.meta.url))
const seconds = Number(process.argv[2] ?? 20)
const folder = mkdtempSync(join(tmpdir(), 'drystroke-bench-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))

/** Real-time priority, below the loop; not granted: none. */
const PRIORITY = '45'
const SOON = ['chrt', '--fifo', PRIORITY]
const soon = spawnSync(SOON[0], [...SOON.slice(1), 'true']).status === 0
const ahead = (run) => (soon ? [...SOON, ...run] : run)
// This process carries datagrams and the WebSocket; what it starts has no part in that.
const raise = (pid, ...more) => spawnSync('chrt', [...more, '--fifo', '--pid', PRIORITY, String(pid)])
// With all its threads, or those that clear its memory are waited for.
if (soon) raise(process.pid, '--all-tasks', '--reset-on-fork')

const DRIVER = ahead(JAVASCRIPT)
/** Sends each line back; the greeting of a WebSocket bridge is answered as the driver would. */
const ECHO = ahead(['node', join(root, 'tests/bench/echo-lines.mjs')])
/** ms, the demo rig's control period */
const PERIOD = 5
const WARM = 200

const ms = (x) => Number((1000 * x).toPrecision(3))

function scenario() {
  const commands = []
  for (let t = 0.5, k = 0; t < seconds - 2; t += 0.5, k++)
    commands.push(`  - { at: "${t} s", surge: "${k % 2 ? 0.3 : 0.25} m/s", yaw: "0 deg/s" }`)
  commands.push(`  - { at: "${seconds - 2} s", ceases: true }`)
  return `name: changes
about: Ahead, with a command that changes twice a second and then ceases.
duration: "${seconds + 6} s"
commands:
${commands.join('\n')}
expect: { outcome: finish, strokes: [], parked: true }
`
}

/** Figures of a whole run in real time on mock buses. */
async function ours(kind, section) {
  const rig = readFileSync(join(root, 'rigs/reservoir-skiff.yaml'), 'utf8')
  const [rigFile, scenarioFile] = [join(folder, `${kind}.yaml`), join(folder, `${kind}-scenario.yaml`)]
  writeFileSync(
    rigFile,
    rig
      .replace('  kind: reference\n', () => section.map((line) => `  ${line}\n`).join(''))
      .replace('watch: {}', `watch:\n  ${OVAL}`),
  )
  // Where nothing is sent when commands cease, the driver cannot be asked to park.
  const text = scenario()
  writeFileSync(
    scenarioFile,
    kind === 'websocket' ? text.replace('ceases: true', 'surge: "0 m/s", yaw: "0 deg/s"') : text,
  )
  const main = join(root, 'dist/cli/main.js')
  const told = ['--rig', rigFile, '--realtime', '--out', join(folder, kind), '--json']
  const run = spawn(process.execPath, [main, 'run', scenarioFile, ...told], {
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  let out = ''
  run.stdout.on('data', (bytes) => {
    out += bytes
  })
  await once(run, 'close')
  const [{ verdict, folder: recording }] = JSON.parse(out).runs
  const figures = new Map(
    verdict.watches.find((w) => w.watch === 'driver').figures.map((f) => [f.name, f.value]),
  )
  const spread = (name) =>
    Object.fromEntries(
      ['50 %', '99 %', 'greatest'].map((q) => [q, ms(figures.get(`${name}, ${q}`) ?? Number.NaN)]),
    )
  const rest = figures.get('commands ceased to rest')
  const events = readFileSync(join(recording, 'events.jsonl'), 'utf8')
  return {
    verdict: verdict.outcome,
    'load, others and this': loadavg()[0],
    'findings of the driver, the gate and the timing': verdict.findings
      .filter((f) => ['driver', 'gate', 'timing'].includes(f.watch))
      .map((f) => f.quantity),
    loop: /"bench":"([^"]*)"/.exec(events)?.[1] ?? null,
    'command to its answer, ms': spread('command to its answer'),
    'command to first setpoint change, ms': spread('command to first setpoint change'),
    'age of the command acted on, ms': spread('age of the command acted on'),
    'rate of answers, Hz': Number(figures.get('rate of answers').toPrecision(4)),
    'time between answers, ms': spread('time between answers'),
    'commands ceased to rest, s': rest === undefined ? null : Number(rest.toPrecision(3)),
  }
}

/** Round trips of plain lines at the same beat. @param say sends a line @param hear calls with each line that comes back */
async function plain(say, hear) {
  const total = Math.round((1000 * seconds) / PERIOD) + WARM
  const sent = new Float64Array(total + 1)
  const trips = []
  let last = 0
  const intervals = []
  hear((line) => {
    const now = performance.now()
    const n = /"(?:n|number)":(\d+)/.exec(line)?.[1]
    if (n === undefined) return
    if (Number(n) > WARM) {
      trips.push(now - sent[Number(n)])
      if (last > 0) intervals.push(now - last)
    }
    last = now
  })
  const began = performance.now()
  for (let n = 1; n <= total; n++) {
    const due = began + n * PERIOD
    // As the loop does it: a timer, then a short spin.
    const wait = due - performance.now() - 1
    if (wait > 0) await new Promise((resolve) => setTimeout(resolve, wait))
    while (performance.now() < due) await new Promise((resolve) => setImmediate(resolve))
    sent[n] = performance.now()
    say(n, `{"n":${n},"t":${n / 200},"surge":0.3,"yaw":0}`)
  }
  await new Promise((resolve) => setTimeout(resolve, 200))
  const quantiles = (list) => {
    const sorted = [...list].sort((a, b) => a - b)
    const at = (q) => ms(sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))] / 1000)
    return { '50 %': at(0.5), '99 %': at(0.99), greatest: at(1) }
  }
  return {
    'round trip, ms': quantiles(trips),
    'time between answers, ms': quantiles(intervals),
    'lines that did not come back': total - WARM - trips.length,
  }
}

const KINDS = {
  process: {
    section: async () => ({ section: ['kind: process', `run: ${JSON.stringify(DRIVER)}`], end: () => {} }),
    reference: async () => {
      const [program, ...args] = ECHO
      const child = spawn(program, args, { stdio: ['pipe', 'pipe', 'inherit'] })
      const lines = createInterface({ input: child.stdout })
      const result = await plain(
        (_, line) => child.stdin.write(`${line}\n`),
        (onLine) => lines.on('line', onLine),
      )
      child.kill()
      return result
    },
  },
  udp: {
    section: () => overUdp(DRIVER),
    reference: async () => {
      const bridge = await overUdp(ECHO)
      const socket = createSocket('udp4')
      await new Promise((resolve) => socket.connect(portIn(bridge), '127.0.0.1', resolve))
      const result = await plain(
        (_, line) => socket.send(line),
        (onLine) => socket.on('message', (bytes) => onLine(String(bytes))),
      )
      socket.close()
      await bridge.end()
      return result
    },
  },
  websocket: {
    section: () => overWebSocket(DRIVER),
    reference: async () => {
      const bridge = await overWebSocket(ECHO)
      const socket = new WebSocket(`ws://127.0.0.1:${portIn(bridge)}`, { perMessageDeflate: false })
      await once(socket, 'open')
      socket.send('{"want":"arms","of":["a"],"boat":"none","beat":0.005}')
      const result = await plain(
        (n) => socket.send(`{"helm":{"ahead":0.3,"turn":0},"at":${n / 200},"number":${n}}`),
        (onLine) => socket.on('message', (bytes) => onLine(String(bytes))),
      )
      socket.terminate()
      await bridge.end()
      return result
    },
  },
  serial: {
    section: () => carried(DRIVER),
    reference: async () => {
      const bridge = await carried(ECHO)
      const line = await openSerial(bridge.section[1].slice('device: '.length), 921_600)
      let rest = ''
      const result = await plain(
        (_, text) => {
          const bytes = Buffer.from(`${text}\n`)
          line.write(bytes, 0, bytes.length)
        },
        (onLine) =>
          line.onBytes((bytes) => {
            const lines = (rest + Buffer.from(bytes).toString()).split('\n')
            rest = lines.pop()
            for (const l of lines) onLine(l)
          }),
      )
      line.close()
      await bridge.end()
      return result
    },
  },
}

async function carried(run) {
  const bridge = await overPty(run)
  if (soon) raise(bridge.pid)
  return bridge
}

const portIn = ({ section }) => Number(/:(\d+)"/.exec(section[1])[1])

const results = {}
for (const [kind, { section, reference }] of Object.entries(KINDS)) {
  const bridge = await section()
  results[kind] = { ours: await ours(kind, bridge.section) }
  await bridge.end()
  results[kind].reference = await reference()
}
process.stdout.write(
  `${JSON.stringify(
    {
      machine: {
        processor: cpus()[0]?.model,
        cores: cpus().length,
        node: process.version,
        'priority of the driver': soon ? `first in, first out, ${PRIORITY}` : 'normal',
      },
      'driver under test, real time, 200 Hz': results,
    },
    null,
    2,
  )}\n`,
)
process.exit()
