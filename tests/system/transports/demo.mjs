/**
 * Plays the demo in real time with the arms in a process of their own, on one kind of bus:
 *
 *     npm run test:demo -- tcp|pty|vcan [--rig NAME] [--tries 3] [--out FOLDER] [SCENARIO...]
 *     npm run test:demo -- vcan --driver javascript|python|owning [SCENARIO...]
 *
 * Every scenario of scenarios/ on the demo's rig, and the short ones on the rig with a frame map; names after the kind play only
 * those, and a name that ends in .yaml is a file, called as its scenario is. Scenarios whose faults are faults of a bus need mock buses and are left out by name. vcan is a kernel of its own
 * (tests/system/uml), where a third process, candump, listens; that machine is one slow processor, so that rate and limits on
 * time are wide there, never counts. Needs socat for pty; there the loop is given a processor of its own (README, real time).
 * A run that did not pass and whose bench was at fault, by its verdict, has shown nothing of the transport: this machine did
 * something else meanwhile. It is tried again, and the table says how often. Recordings stay in recordings/transports-KIND, of
 * the last tries; status 0: all passed.
 *
 * --driver: the demo rig is led by a driver to copy (scenarios/drivers), or by one that owns the buses and opens the CAN interfaces itself
 * (tests/system/drivers/owning.mjs), each a process beside the others; without names it plays slow-ahead. Over TCP the same is tested
 * in own-driver-live.test.ts and owns-bus-processes.test.ts.
 */
import { spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import {
  closeSync,
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { createServer } from 'node:net'
import { cpus, tmpdir } from 'node:os'
import { basename, join, resolve } from 'node:path'
import { createInterface } from 'node:readline'
import { fileURLToPath } from 'node:url'
import { parse } from 'yaml'
import { judgedByLog } from './by-log.mjs'
import { DRIVERS, FEW_FAULTS, patient, widened } from './slow-kernel.mjs'

const root = fileURLToPath(new URL('../../../', import.meta.url))
const main = join(root, 'dist/cli/main.js')
const KINDS = ['tcp', 'pty', 'vcan']
const RIGS = ['reservoir-skiff', 'bottle-skiff-frames']
/** s: scenarios up to this are short. */
const SHORT = 15
/** s that a run may take beyond its scenario: warm-up, set-up, proof of the stop, approach, park, rest. */
const BESIDE = 60
/** Which processors the kernel's workers may use that have none of their own (Documentation/core-api/workqueue). */
const WORKERS = '/sys/devices/virtual/workqueue/cpumask'
/** How often each scenario was played, beside the recordings; and of each the verdict by candump's log, null: there is none. */
const TRIED = 'tried.json'
const BY_LOG = '.by-log.json'
/** Real-time priority of what stands for the wires: above the loop, below the guardian. */
const LINES = 56
/** Real-time priority of the simulated arms, below the loop: real ones have processors of their own. */
const ARMS = 45
const SHARED_MEMORY = '/dev/shm'
/** s until a child must be there, or gone. */
const PATIENCE = 60

const children = new Set()
let ending = false
/** The loop's own processor, null: any. */
let ofLoop = null

const given = process.argv.slice(2)
const option = (name) => {
  const at = given.indexOf(name)
  return at < 0 ? [] : given.splice(at, 2).slice(1)
}
const [onlyRig] = option('--rig')
const [driver] = option('--driver')
const [outFolder] = option('--out')
const tries = Number(option('--tries')[0] ?? 3)
const [kind = '', ...names] = given
if (driver !== undefined && names.length === 0) names.push('slow-ahead')
/** The others paddle the arms of the demo's rig. */
const rigs = onlyRig === undefined ? (driver === undefined ? RIGS : RIGS.slice(0, 1)) : [onlyRig]
const known = KINDS.includes(kind) && rigs.every((r) => RIGS.includes(r)) && tries >= 1
const leads =
  driver === undefined || (DRIVERS.includes(driver) && kind === 'vcan' && rigs.every((r) => r === RIGS[0]))
if (!known || !leads) {
  console.error(
    `Say which: npm run test:demo -- ${KINDS.join('|')} [--rig ${RIGS.join('|')}] [--tries N] [--out FOLDER] [SCENARIO...]
or:        npm run test:demo -- vcan --driver ${DRIVERS.join('|')} [--tries N] [--out FOLDER] [SCENARIO...]`,
  )
  process.exit(2)
}
/** Scenarios that are no names of the demo's but files, called as their file is. */
const own = new Map(names.filter((n) => n.endsWith('.yaml')).map((n) => [basename(n, '.yaml'), resolve(n)]))
/** Where recordings stay. */
const kept = outFolder ? resolve(outFolder) : join(root, 'recordings', `transports-${kind}`)

for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP']) {
  process.once(signal, () => {
    ending = true
    void endAll().then(() => process.exit(3))
  })
}

const inKernel = process.env.DRYSTROKE_INSIDE === 'yes'
if (inKernel) await playAll()
else process.exitCode = await playAndShow()

async function playAndShow() {
  rmSync(kept, { recursive: true, force: true })
  const status = kind === 'vcan' ? enterKernel() : 0
  if (kind !== 'vcan') await playAll()
  return Math.max(status, showTable(), kind === 'vcan' ? compareAll() : 0)
}

/** The same again, in user-mode Linux. */
function enterKernel() {
  const seconds = rigs.reduce((sum, rig) => sum + lengthOf(chosen(rig).played), 0)
  const limit = String(Math.ceil(seconds * (2 + tries) + 2 * PATIENCE))
  const inside = join(root, 'tests/system/uml/inside.sh')
  const self = fileURLToPath(import.meta.url)
  const args = ['--real-time', '--limit', limit, process.execPath, self, ...process.argv.slice(2)]
  const env = { ...process.env, DRYSTROKE_INSIDE: 'yes' }
  return spawnSync(inside, args, { stdio: 'inherit', env, cwd: root }).status ?? 4
}

/** Scenario and verdict, of all that was played. @returns status */
function showTable() {
  let status = 0
  console.log('')
  for (const rig of rigs) {
    const file = join(kept, rig, TRIED)
    const tried = existsSync(file) ? JSON.parse(readFileSync(file, 'utf8')) : {}
    for (const name of chosen(rig).played) {
      const verdict = verdictIn(join(kept, rig, name))
      const outcome = verdict?.outcome ?? 'not played'
      const before = tried[name] > 1 ? `  after ${tried[name] - 1} in which the bench was at fault` : ''
      console.log(`${outcome.padEnd(12)} ${kind}  ${rig.padEnd(20)} ${name}${before}`)
      if (outcome !== 'pass') status = 4
      for (const { watch, place, says } of ofDriver(verdict)) {
        status = 4
        console.log(`             ${watch} ${place}: ${says}`)
      }
    }
  }
  return status
}

/** A driver that passes has not been held back, nor been late. */
function ofDriver(verdict) {
  if (driver === undefined) return []
  return (verdict?.findings ?? []).filter(({ watch }) => watch === 'driver' || watch === 'gate')
}

function judged(folder, log) {
  try {
    return judgedByLog(main, folder, log)
  } catch ({ message }) {
    return { differs: [message], apart: 0, late: 0, findings: 0, says: '', verdict: null }
  }
}

/** Each recording beside what candump heard of it, outside of the slow kernel. @returns status */
function compareAll() {
  let status = 0
  console.log('')
  for (const rig of rigs) {
    for (const name of chosen(rig).played) {
      const folder = join(kept, rig, name)
      if (!existsSync(join(folder, 'verdict.json'))) continue
      const log = join(kept, rig, 'can.log')
      const { differs, apart, late, findings, says, verdict } = judged(folder, log)
      writeFileSync(join(kept, rig, `${name}${BY_LOG}`), JSON.stringify(verdict))
      const same = differs.length === 0
      if (!same) status = 4
      console.log(`${same ? 'same' : 'OTHER'} by candump: ${rig} ${name}, ${findings} findings of frames,`)
      console.log(
        `  times at most ${(apart / 1e6).toFixed(3)} ms apart; ${late} warnings of feedback read late, not compared. ${says.split('Recording:')[0].trim()}`,
      )
      for (const difference of differs) console.log(`  ${difference}`)
    }
  }
  return status
}

/**
 * On Linux bytes of serial ports and pseudo-terminals go through workers of the kernel that have normal priority. Behind a
 * process with a real-time priority on the same processor they wait, for 20 ms at times, while another processor has nothing
 * to do. So the loop is given the last processor and those workers the first, before all else there, until this ends.
 */
function partProcessors() {
  const last = cpus().length - 1
  if (kind !== 'pty' || last < 1) return
  try {
    const before = readFileSync(WORKERS, 'utf8')
    writeFileSync(WORKERS, '1')
    const raised = new Set()
    // There are more of them when there is more to do.
    setInterval(() => raiseWorkers(raised), 500).unref()
    process.once('exit', () => {
      writeFileSync(WORKERS, before)
      for (const pid of raised) spawnSync('chrt', ['--other', '--pid', '0', pid], { stdio: 'ignore' })
    })
    raiseWorkers(raised)
    ofLoop = last
  } catch {
    console.log('The kernel keeps its workers on all processors: feedback may be late on pseudo-terminals.')
  }
}

function raiseWorkers(raised) {
  for (const pid of readdirSync('/proc')) {
    if (!/^\d+$/.test(pid) || raised.has(pid) || !nameOf(pid).startsWith('kworker/u')) continue
    raise(LINES, pid)
    raised.add(pid)
  }
}

/** Where that is permitted; otherwise it stays as it is. */
function raise(priority, pid) {
  spawnSync('chrt', ['--fifo', '--pid', String(priority), String(pid)], { stdio: 'ignore' })
}

/** Of a process, as the kernel shows it; '' when it is gone. */
function nameOf(pid) {
  try {
    return readFileSync(`/proc/${pid}/comm`, 'utf8')
  } catch {
    return ''
  }
}

async function playAll() {
  const work = mkdtempSync(join(tmpdir(), 'drystroke-demo-'))
  const memory = ofMemory()
  const out = memory ?? kept
  partProcessors()
  try {
    for (const rig of rigs) {
      if (ending) break
      const { played, left } = chosen(rig)
      for (const name of left) console.log(`left out on ${kind}: ${name} (a fault of a mock bus)`)
      if (played.length > 0) await playRig(rig, played, join(out, rig), join(work, rig))
    }
  } finally {
    await endAll()
    rmSync(work, { recursive: true, force: true })
    if (memory) {
      cpSync(memory, kept, { recursive: true })
      rmSync(memory, { recursive: true, force: true })
    }
  }
}

/**
 * A folder without a disk for recordings, null: they go to their place at once. The workers of the kernel that carry the bytes of
 * pseudo-terminals also write files to the disk, for 20 ms at a time, while the bytes wait; and while a file of the machine
 * outside is written, the whole kernel in user-mode Linux stands still.
 */
function ofMemory() {
  if (kind === 'tcp' || !existsSync(SHARED_MEMORY)) return null
  return mkdtempSync(join(SHARED_MEMORY, 'drystroke-demo-'))
}

async function playRig(rig, played, out, work) {
  mkdirSync(work, { recursive: true })
  const { harness, arms, end } = await addresses(work)
  const { rigFile, files } = filesFor(rig, played, work)
  const orders = join(work, 'arms.sock')
  mkdirSync(out, { recursive: true })
  const log = kind === 'vcan' ? listen(join(out, 'can.log')) : null
  const standIn = start([
    '--single-threaded-gc',
    main,
    'stand-in',
    '--rig',
    rigFile,
    ...arms,
    '--orders',
    orders,
    '--json',
  ])
  await lineOf(standIn, /"what":"serving"/)
  if (kind !== 'vcan') raise(ARMS, standIn.pid)
  console.log(`\n${rig} on ${kind}: ${played.length} scenarios, the arms in process ${standIn.pid}`)
  const told = ['--rig', rigFile, ...harness, '--stand-in', orders, '--out', out]
  const tried = {}
  let left = played
  for (let round = 1; left.length > 0 && round <= tries && !ending; round++) {
    for (const name of left) {
      rmSync(join(out, name), { recursive: true, force: true })
      tried[name] = round
    }
    await playOnce(left, [...left.map((name) => files[played.indexOf(name)]), ...told])
    left = left.filter((name) => heldUp(join(out, name)))
  }
  writeFileSync(join(out, TRIED), JSON.stringify(tried))
  await stop(standIn)
  if (log) await log()
  await end()
}

async function playOnce(names, args) {
  const run = start([main, 'run', ...args], { stdio: ['ignore', 'inherit', 'inherit'] })
  const limit = setTimeout(() => run.kill('SIGTERM'), lengthOf(names) * 3000)
  await once(run, 'exit')
  clearTimeout(limit)
}

/** It did not pass, and its verdict says that the loop's timing was bad: it has shown nothing of the transport. */
function heldUp(folder) {
  const verdict = verdictIn(folder)
  return verdict !== null && verdict.outcome !== 'pass' && verdict.findings.some((f) => f.watch === 'timing')
}

function verdictIn(folder) {
  const file = join(folder, 'verdict.json')
  return existsSync(file) ? JSON.parse(readFileSync(file, 'utf8')) : null
}

/** What the harness and the arms are told of where the buses are. */
async function addresses(work) {
  const buses = ['port-can', 'starboard-can']
  const told = (list) => list.flatMap((address, i) => ['--bus', `${buses[i]}=${address}`])
  if (kind === 'vcan') {
    const both = told(['socketcan:vcan0', 'socketcan:vcan1'])
    return { harness: both, arms: both, end: () => {} }
  }
  if (kind === 'tcp') {
    const ports = await Promise.all(buses.map(freePort))
    const both = told(ports.map((port) => `slcan:tcp:127.0.0.1:${port}`))
    return { harness: both, arms: both, end: () => {} }
  }
  const pairs = await Promise.all(buses.map((bus) => joinedPtys(join(work, bus))))
  return {
    harness: told(pairs.map(({ near }) => `slcan:${near}`)),
    arms: told(pairs.map(({ far }) => `slcan:${far}`)),
    end: () => Promise.all(pairs.map(({ socat }) => stop(socat))),
  }
}

async function joinedPtys(path) {
  const [near, far] = [`${path}-near`, `${path}-far`]
  const ends = [near, far].map((link) => `pty,raw,echo=0,link=${link}`)
  // As real lines do, they go on whatever else the machine has to do.
  const socat = startProgram('socat', ['-d', '-d', ...ends], { stdio: ['ignore', 'ignore', 'pipe'] })
  raise(LINES, socat.pid)
  await lineOf(socat, /starting data transfer loop/)
  return { near, far, socat }
}

async function freePort() {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const { port } = server.address()
  server.close()
  return port
}

/** candump in a process of its own. @returns ends it and tells what it heard */
function listen(file) {
  const into = openSync(file, 'w')
  const candump = startProgram('candump', ['-L', '-r', '4000000', 'vcan0', 'vcan1'], {
    stdio: ['ignore', into, 'inherit'],
  })
  closeSync(into)
  return async () => {
    await stop(candump, 'SIGINT')
    const lines = readFileSync(file, 'utf8').split('\n').length - 1
    console.log(`candump, in process ${candump.pid}, heard ${lines} frames`)
  }
}

function chosen(rig) {
  const all = readdirSync(join(root, 'scenarios'))
    .filter((f) => f.endsWith('.yaml'))
    .map((f) => basename(f, '.yaml'))
    .filter((name) => names.length === 0 || names.includes(name))
    .concat([...own.keys()])
    .filter((name) => rig === RIGS[0] || durationOf(name) <= SHORT)
  const ofBus = (name) => (scenario(name).faults ?? []).some((fault) => fault.bus !== undefined)
  return { played: all.filter((name) => !ofBus(name)), left: all.filter(ofBus) }
}

function scenario(name) {
  return parse(readFileSync(fileOf(name), 'utf8'))
}

function fileOf(name) {
  return own.get(name) ?? join(root, 'scenarios', `${name}.yaml`)
}

function durationOf(name) {
  return Number.parseFloat(scenario(name).duration)
}

function lengthOf(played) {
  return played.reduce((sum, name) => sum + durationOf(name) + BESIDE, 0)
}

/** Rig and scenarios as they are; wider limits on time where the machine is slow. */
function filesFor(rig, played, work) {
  const rigFile = join(root, 'rigs', `${rig}.yaml`)
  const files = played.map(fileOf)
  const copy = join(work, `${rig}.yaml`)
  if (kind !== 'vcan') {
    if (ofLoop === null) return { rigFile, files }
    writeFileSync(copy, `${readFileSync(rigFile, 'utf8')}\nrealtime: { processor: ${ofLoop} }\n`)
    return { rigFile: copy, files }
  }
  writeFileSync(copy, widened(readFileSync(rigFile, 'utf8'), copy, driver))
  return {
    rigFile: copy,
    files: files.map((file) => {
      const scenario = join(work, basename(file))
      writeFileSync(scenario, patient(readFileSync(file, 'utf8')))
      return scenario
    }),
  }
}

function start(args, options) {
  return startProgram(process.execPath, args, options ?? { stdio: ['pipe', 'pipe', 'inherit'] })
}

function startProgram(program, args, options) {
  const env = kind === 'vcan' ? { ...process.env, ...FEW_FAULTS } : process.env
  const child = spawn(program, args, { env, ...options })
  children.add(child)
  child.once('exit', () => children.delete(child))
  child.once('error', (error) => console.error(`${program}: ${error.message}`))
  return child
}

/** Waits for a line of its output. */
async function lineOf(child, pattern) {
  const stream = child.stdout ?? child.stderr
  await new Promise((resolve, reject) => {
    const patience = setTimeout(
      () => reject(new Error(`no ${pattern} within ${PATIENCE} s`)),
      PATIENCE * 1000,
    )
    const over = (settle) => (value) => {
      clearTimeout(patience)
      settle(value)
    }
    child.once(
      'exit',
      over(() => reject(new Error(`it ended before ${pattern}`))),
    )
    createInterface({ input: stream }).on('line', (line) => pattern.test(line) && over(resolve)())
  })
  stream.resume()
}

async function stop(child, signal = 'SIGTERM') {
  if (!children.has(child)) return
  const gone = once(child, 'exit')
  child.kill(signal)
  const impatience = setTimeout(() => child.kill('SIGKILL'), PATIENCE * 1000)
  await gone
  clearTimeout(impatience)
}

function endAll() {
  return Promise.all([...children].map((child) => stop(child)))
}
