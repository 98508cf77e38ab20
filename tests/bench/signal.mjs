/**
 * ms from a signal to the end of a run in virtual time: stop, verdict and reports written; beside a bare process of the same
 * platform that does nothing but end on a signal. The last line is JSON.
 *
 *   node signal.mjs [TRIALS of each, default 10]
 */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const root = fileURLToPath(new URL('../../', import.meta.url))
const main = join(root, 'dist/cli/main.js')
const rig = join(root, 'rigs/reservoir-skiff.yaml')
const trials = Number(process.argv[2] ?? 10)
const folder = mkdtempSync(join(tmpdir(), 'drystroke-bench-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))
const long = join(folder, 'long.yaml')
const text = readFileSync(join(root, 'scenarios/slow-ahead.yaml'), 'utf8')
writeFileSync(long, text.replace(/^duration: .*/m, 'duration: "30 min"'))

const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms))

async function signalled(args, busy, signal) {
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'ignore'] })
  const exit = once(child, 'exit')
  child.stdout.resume()
  await busy(child)
  const sent = performance.now()
  child.kill(signal)
  await exit
  return performance.now() - sent
}

/** Of a run that is some way into its scenario. */
function ofRun(signal, trial) {
  const out = join(folder, `${signal}-${trial}`)
  const frames = join(out, 'slow-ahead/frames.pcapng')
  const busy = async () => {
    while ((statSync(frames, { throwIfNoEntry: false })?.size ?? 0) < 4_000_000) await pause(20)
  }
  return signalled([main, 'run', long, '--rig', rig, '--out', out], busy, signal)
}

function ofBareProcess(signal) {
  const program = `process.once('${signal}', () => process.exit(3)); setInterval(() => {}, 1000); console.log('there')`
  return signalled(['-e', program], (child) => once(child.stdout, 'data'), signal)
}

function quantiles(list) {
  const sorted = list.toSorted((a, b) => a - b)
  const at = (q) => Number(sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))].toFixed(1))
  return { least: at(0), median: at(0.5), greatest: at(1) }
}

const results = {}
for (const signal of ['SIGINT', 'SIGTERM']) {
  const [ours, bare] = [[], []]
  for (let i = 0; i < trials; i++) {
    ours.push(await ofRun(signal, i))
    bare.push(await ofBareProcess(signal))
  }
  results[signal] = { trials, ours: quantiles(ours), 'bare process': quantiles(bare) }
}
console.log(JSON.stringify({ 'ms from the signal to the end': results }))
