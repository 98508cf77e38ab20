/**
 * Tick lateness of our loop at 200 Hz and 1 kHz, idle and beside busy processes, at normal priority and with SCHED_FIFO,
 * beside a C loop with clock_nanosleep on the same machine under the same load. Needs gcc and chrt (util-linux).
 *
 *   npm run bench:time [seconds a measurement, default 20]
 */
import { spawn, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { cpus, loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { FLAGS } from '../../dist/bench/realtime/process.js'

const here = fileURLToPath(new URL('.', import.meta.url))
const folder = mkdtempSync(join(tmpdir(), 'drystroke-bench-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))
const seconds = Number(process.argv[2] ?? 20)

const binary = join(folder, 'loop')
const built = spawnSync('gcc', ['-O2', '-Wall', '-o', binary, join(here, 'loop.c')], { encoding: 'utf8' })
if (built.status !== 0) throw new Error(`gcc: ${built.stderr ?? built.error}`)

const fifoAllowed = spawnSync('chrt', ['-f', '50', 'true']).status === 0

/** Quantiles in ms of latenesses in ns. */
function quantiles(lines) {
  const late = lines.trim().split('\n').map(Number)
  late.sort((a, b) => a - b)
  const at = (q) => Number((late[Math.min(late.length - 1, Math.floor(q * late.length))] / 1e6).toFixed(4))
  return { n: late.length, p50: at(0.5), p99: at(0.99), 'p99.9': at(0.999), max: at(1) }
}

function measure(command, fifo) {
  const [program, ...args] = fifo ? ['chrt', '-f', '50', ...command] : command
  const run = spawnSync(program, args, { encoding: 'utf8', maxBuffer: 1 << 28 })
  if (run.status !== 0) throw new Error(`${program}: ${run.stderr}`)
  return quantiles(run.stdout)
}

/** One busy process a core, so that no core is left idle. */
function busyProcesses() {
  const busy = cpus().map(() => spawn(process.execPath, ['-e', 'for(;;);'], { stdio: 'ignore' }))
  process.on('exit', () => {
    for (const b of busy) b.kill('SIGKILL')
  })
  return () => {
    for (const b of busy) b.kill('SIGKILL')
  }
}

const results = []
for (const load of ['idle', 'busy']) {
  const end = load === 'busy' ? busyProcesses() : () => {}
  for (const rate of [200, 1000]) {
    for (const fifo of fifoAllowed ? [false, true] : [false]) {
      results.push({
        load,
        'rate, Hz': rate,
        priority: fifo ? 'SCHED_FIFO 50' : 'normal',
        'ours, ms': measure(
          [process.execPath, ...FLAGS, join(here, 'loop.mjs'), rate, seconds].map(String),
          fifo,
        ),
        'C, ms': measure([binary, rate, seconds].map(String), fifo),
      })
    }
  }
  end()
}

process.stdout.write(
  `${JSON.stringify(
    {
      machine: {
        processor: cpus()[0]?.model,
        cores: cpus().length,
        node: process.version,
        'load of others at the end': loadavg()[0],
      },
      'tick lateness': results,
    },
    null,
    2,
  )}\n`,
)
