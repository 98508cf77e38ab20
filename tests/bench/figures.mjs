/**
 * Figures of the mock-bus pipeline, as JSON on standard output: virtual time, dry and afloat, memory, frames judged offline, the end by a
 * signal, check, distances (clearance.mjs), and the arm's kinematics and dynamics (dynamics.mjs). Each stands beside an outside reference measured in the same run on the same machine. Needs the
 * Debian packages tshark, g++, liborocos-kdl-dev, libfcl-dev and libeigen3-dev for the references; without them they are null.
 *
 *   npm run bench
 */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { cpus, tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const here = fileURLToPath(new URL('.', import.meta.url))
const folder = mkdtempSync(join(tmpdir(), 'drystroke-bench-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))

const round = (x, digits = 3) => (Number.isFinite(x) ? Number(x.toPrecision(digits)) : x)

/** Runs one of the scripts beside this file in a process of its own; its lines, of which the last is JSON. */
function linesOf(script, args = [], nodeArgs = []) {
  const { status, stdout, stderr } = spawnSync(process.execPath, [...nodeArgs, join(here, script), ...args], {
    encoding: 'utf8',
  })
  if (status !== 0) throw new Error(`${script}: ${stderr}`)
  return stdout.trim().split('\n')
}

function measure(script, args, nodeArgs) {
  return JSON.parse(linesOf(script, args, nodeArgs).at(-1))
}

/** Wall seconds of an outside program, best of three, or null when it is not there. */
function outside(command, args, input) {
  let best = null
  for (let i = 0; i < 3; i++) {
    const t0 = performance.now()
    const run = spawnSync(command, args, { input, encoding: 'utf8', maxBuffer: 1 << 30 })
    if (run.status !== 0) return null
    const s = (performance.now() - t0) / 1000
    if (best === null || s < best.s) best = { s, stdout: run.stdout }
  }
  return best
}

const minutes = (n) => measure('play.mjs', [folder, String(n)])
const one = minutes(1)
const ten = minutes(10)
const afloat = measure('play.mjs', [folder, '3', 'afloat', 'afloat/ahead'])
measure('play.mjs', [folder, '1', 'profiled'], ['--cpu-prof', `--cpu-prof-dir=${folder}`])
const offline = measure('offline.mjs', [ten.folder])
const tshark = outside('tshark', ['-r', join(ten.folder, 'frames.pcapng'), '-T', 'fields', '-e', 'can.id'])
const signal = measure('signal.mjs')
const preflight = measure('check.mjs')
const mathematics = linesOf('dynamics.mjs').map((line) => JSON.parse(line))
const clearance = measure('clearance.mjs')

process.stdout.write(
  `${JSON.stringify(
    {
      machine: { processor: cpus()[0]?.model, cores: cpus().length, node: process.version },
      ...signal,
      'virtual time, slow ahead, every frame, watch and the recording': {
        'scenario seconds a wall second, 1 minute': round(one.speed),
        'scenario seconds a wall second, 10 minutes': round(ten.speed),
        'frames a wall second': round(ten.frames / ten.wall),
        'share of the time, %': sharesByFolder(),
        reference: 'real time: 1 scenario second a wall second, what real arms would take',
      },
      'virtual time afloat, ahead, every frame, watch and the recording': {
        'scenario seconds a wall second, 3 minutes': round(afloat.speed),
        'scenario seconds a second of processor time, all threads': round(afloat.processorSpeed),
        reference: {
          'KDL in C++, inverse dynamics and Jacobian of both arms once a ms and nothing else, scenario seconds a second':
            bareArms(),
        },
      },
      'memory, greatest resident set': {
        '1 minute, MB': round(one.maxRss / 1e6),
        '10 minutes, MB': round(ten.maxRss / 1e6),
        'ten minutes over one': round(ten.maxRss / one.maxRss),
        reference: { 'an idle node process, MB': round(measure('idle.mjs').maxRss / 1e6) },
      },
      'frames judged offline': {
        'codec and watches, frames in memory, frames/s': round(offline.inMemory),
        'whole recording read from disk and judged, frames/s': round(offline.fromDisk),
        reference: {
          'tshark -T fields -e can.id on the same file, frames/s': tshark && round(ten.frames / tshark.s),
        },
      },
      'drystroke check demo, all scenarios': {
        'wall seconds': round(preflight.check),
        'seconds of processor time': round(preflight.checkProcessor),
        reference: {
          'a node process that does nothing, wall seconds': round(preflight.bare),
          'and of processor time': round(preflight.bareProcessor),
        },
      },
      'distances of the arms on their stroke; reference: the Flexible Collision Library in C++': clearance,
      'kinematics and dynamics, six joints; reference: KDL in C++, its fastest solver': Object.fromEntries(
        mathematics.map(({ what, ...figures }) => [what, figures]),
      ),
    },
    null,
    2,
  )}\n`,
)

/** What a simulation of the same arms, on the same grid, could do at most with the reference's mathematics; null without it. */
function bareArms() {
  const perSecond = (what) => mathematics.find((line) => line.what === what).reference
  const [dynamics, kinematics] = ['inverse dynamics', 'forward kinematics and Jacobian'].map(perSecond)
  return dynamics && kinematics && round(1 / (2 * 1000 * (1 / dynamics + 1 / kinematics)))
}

/** Self time of the profiled run by folder of src, greatest first. */
function sharesByFolder() {
  const file = readdirSync(folder).find((f) => f.endsWith('.cpuprofile'))
  const { nodes, samples, timeDeltas } = JSON.parse(readFileSync(join(folder, file), 'utf8'))
  const names = new Map(nodes.map((n) => [n.id, folderOf(n.callFrame)]))
  const sums = {}
  let total = 0
  samples.forEach((id, i) => {
    sums[names.get(id)] = (sums[names.get(id)] ?? 0) + timeDeltas[i]
    total += timeDeltas[i]
  })
  return Object.fromEntries(
    Object.entries(sums)
      .sort((a, b) => b[1] - a[1])
      .slice(0, 12)
      .map(([name, t]) => [name, round((100 * t) / total)]),
  )
}

function folderOf({ url, functionName }) {
  const ours = /\/dist\/(?:([^/]+)\/)?[^/]+$/.exec(url)
  if (url.includes('/node_modules/')) return 'libraries'
  if (ours) return ours[1] ?? 'ground floor'
  return functionName === '(garbage collector)' ? 'garbage collector' : 'node itself'
}
