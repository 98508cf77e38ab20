/**
 * Frames that a real-time run sustains with every watch on, over slcan on TCP against simulated arms in another process:
 * the bench process's share of a core, tick lateness, and the load as a share of a full 1 Mbit/s bus.
 *
 *   node full-bus.mjs [RATE in Hz, default 200 and 625]...      the last line is JSON
 *
 * The demo rig at 200 Hz puts about 2,600 frames/s on each of its two buses, at 625 Hz about 8,000.
 */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const root = fileURLToPath(new URL('../..', import.meta.url))
const main = join(root, 'dist/cli/main.js')
const rates = process.argv.slice(2).map(Number)
if (rates.length === 0) rates.push(200, 625)
const folder = mkdtempSync(join(tmpdir(), 'drystroke-bench-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))

async function freePort() {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const { port } = server.address()
  server.close()
  await once(server, 'close')
  return port
}

/** Processor time in s of a process so far (proc(5): fields 14 and 15, in ticks of 10 ms). */
function cpuOf(pid) {
  const stat = readFileSync(`/proc/${pid}/stat`, 'utf8')
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ')
  return (Number(fields[11]) + Number(fields[12])) / 100
}

function benchProcessOf(parent) {
  for (const pid of readdirSync('/proc').filter((p) => /^\d+$/.test(p))) {
    try {
      const stat = readFileSync(`/proc/${pid}/stat`, 'utf8')
      if (stat.slice(stat.lastIndexOf(')') + 2).split(' ')[1] !== String(parent)) continue
      if (readFileSync(`/proc/${pid}/cmdline`, 'utf8').includes('realtime')) return Number(pid)
    } catch {
      // It has ended meanwhile.
    }
  }
  return null
}

async function measure(rate) {
  const rig = join(folder, `rig-${rate}.yaml`)
  const text = readFileSync(join(root, 'rigs/reservoir-skiff.yaml'), 'utf8')
  writeFileSync(rig, text.replace('rate: "200 Hz"', `rate: "${rate} Hz"`))
  const buses = []
  for (const name of ['port-can', 'starboard-can']) {
    buses.push('--bus', `${name}=slcan:tcp:127.0.0.1:${await freePort()}`)
  }
  const orders = join(folder, `orders-${rate}`)
  const arms = spawn(
    process.execPath,
    [main, 'stand-in', '--rig', rig, ...buses, '--orders', orders, '--json'],
    {
      stdio: ['pipe', 'pipe', 'inherit'],
    },
  )
  await once(arms.stdout, 'data')
  const out = join(folder, `out-${rate}`)
  const scenario = join(root, 'scenarios/slow-ahead.yaml')
  const run = spawn(
    process.execPath,
    [main, 'run', scenario, '--rig', rig, ...buses, '--stand-in', orders, '--out', out, '--json'],
    { stdio: ['ignore', 'pipe', 'inherit'] },
  )
  let printed = ''
  run.stdout.on('data', (d) => {
    printed += d
  })
  const ended = once(run, 'close')
  // From 8 s to 18 s the arms are in the middle of their strokes.
  const cores = await coresBetween(8, 18, () => [benchProcessOf(run.pid), arms.pid], ended)
  await ended
  arms.kill()
  const { verdict } = JSON.parse(printed).runs[0]
  const figures = verdict.watches.flatMap((w) => w.figures.map((f) => ({ ...f, watch: w.watch })))
  const of = (watch, name, place) =>
    figures.filter(
      (f) => f.watch === watch && f.name.startsWith(name) && (place === undefined || f.place === place),
    )
  return {
    'control rate, Hz': rate,
    outcome: verdict.outcome,
    sentence: verdict.sentence,
    'frames/s a bus': Math.round(framesPerSecond(join(out, 'slow-ahead'))),
    'share of a full bus, busiest second': of('bus', 'load, busiest').map((f) => Number(f.value.toFixed(3))),
    'cores that the bench process took': cores?.[0] ?? null,
    'cores that the arms took': cores?.[1] ?? null,
    'tick lateness': Object.fromEntries(of('timing', '').map((f) => [f.name, f.value])),
  }
}

/** Of processes, in the time from `from` to `to` s from now; null: the run ended before that. */
async function coresBetween(from, to, pids, ended) {
  let over = false
  void ended.then(() => {
    over = true
  })
  const wait = (s) => Promise.race([new Promise((resolve) => setTimeout(resolve, s * 1000)), ended])
  await wait(from)
  if (over) return null
  const which = pids()
  const before = which.map(cpuOf)
  await wait(to - from)
  if (over) return null
  return which.map((pid, i) => Number(((cpuOf(pid) - before[i]) / (to - from)).toFixed(3)))
}

/** Mean over both buses from the first to the last tick of the stage play. */
function framesPerSecond(recording) {
  const events = readFileSync(join(recording, 'events.jsonl'), 'utf8')
    .trim()
    .split('\n')
    .map((l) => JSON.parse(l))
  const from = events.findIndex((e) => e.kind === 'stage' && e.stage === 'play')
  const to = events.findIndex((e) => e.kind === 'stage' && (e.stage === 'park' || e.stage === 'stopping'))
  if (from < 0 || to < 0) return Number.NaN
  return (events[to].after - events[from].after) / ((events[to].t - events[from].t) / 1e9) / 2
}

const results = []
for (const rate of rates) results.push(await measure(rate))
console.log(JSON.stringify({ 'slcan over TCP, every watch on': results }))
process.exit(0)
