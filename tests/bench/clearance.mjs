/**
 * Distances of the demo rig's arms on its stroke, a second of processor time, beside the Flexible Collision Library in C++ in turns in
 * the same run: all pairs of bodies in every pose, arms placed; and the sweep from pose to pose as the watch makes it, which looks at what
 * may have come near, beside all pairs in every pose. Prints one line of JSON; ratio 2 means twice as fast as the reference. Without
 * g++ and the Debian package libfcl-dev the reference is null.
 *
 *   node clearance.mjs
 */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { ReferenceDriver } from '../../dist/driver/reference.js'
import { loadRig } from '../../dist/files/load.js'
import { Bodies } from '../../dist/motion/clearance/bodies.js'
import { pairsOf } from '../../dist/motion/clearance/pairs.js'
import { CLOSEST } from '../../dist/motion/clearance/segments.js'
import { ClearanceSweep } from '../../dist/motion/clearance/sweep.js'
import { poseOf, zOnto } from '../../dist/motion/pose.js'
import { watchSchemas } from '../../dist/watch/settings.js'

const ROUNDS = 5
const POSES = 1000 // 5 s of strokes at 200 Hz
const COARSE = 0.05 // as the watch has it

const here = fileURLToPath(new URL('.', import.meta.url))
const rigFile = join(here, '../../rigs/reservoir-skiff.yaml')
const rig = loadRig(readFileSync(rigFile, 'utf8'), rigFile, watchSchemas)
const bodies = new Bodies(rig)
const { pairs } = pairsOf(rig, bodies)
const driver = new ReferenceDriver(rig)
driver.begin()
const poses = Array.from({ length: POSES }, () => {
  const q = new Float64Array(rig.joints.length)
  driver.step({ surge: 0.3, yaw: 0 }, q)
  return q
})

const closest = new Float64Array(CLOSEST)
const place = (q) => {
  for (let arm = 0; arm < rig.arms.length; arm++) bodies.place(arm, q, q, 0)
}

function allPairs() {
  let sum = 0
  for (const q of poses) {
    place(q)
    for (let p = 0; p < pairs.length; p++) {
      bodies.measure(pairs[p].a, pairs[p].b, closest)
      sum += closest[0]
    }
  }
  return sum
}

function sweep() {
  const sweep = new ClearanceSweep(rig, rig.clearance.warn, COARSE)
  sweep.start(poses[0], 0)
  for (let k = 1; k < POSES; k++) sweep.move(poses[k], k)
  return Math.min(...sweep.groups.map((_, g) => sweep.nearest(g)?.distance ?? Infinity))
}

/** s of processor time, all threads: others on the machine do not count. */
function spent() {
  const { user, system } = process.cpuUsage()
  return (user + system) / 1e6
}

function posesPerSecond(pass) {
  pass()
  const start = spent()
  let passes = 0
  do {
    pass()
    passes++
  } while (spent() - start < 0.25)
  return (passes * POSES) / (spent() - start)
}

/** What the reference is told: see clearance-fcl.cpp. */
function job() {
  const capsules = rig.arms.flatMap((_, arm) => [...bodies.arms[arm].radii])
  const parts = rig.clearance.keepOut.flatMap(({ parts }) => parts)
  const rods = parts.filter(({ shape }) => shape === 'capsule')
  const boxes = parts.filter(({ shape }) => shape === 'box')
  const shapes = [
    ...[...capsules, ...rods.map(({ radius }) => radius)].flatMap((radius) => [0, radius]),
    ...boxes.flatMap(({ radius, size }) => [1, radius, ...size]),
  ]
  const along = (from, to) => {
    const d = to.map((x, k) => x - from[k])
    const length = Math.hypot(...d)
    const turn = zOnto(length > 0 ? d.map((x) => x / length) : [0, 0, 1])
    return [...turn.subarray(0, 9), ...from.map((x, k) => (x + to[k]) / 2), length]
  }
  const still = [
    ...rods.flatMap(({ from, to }) => along(from, to)),
    ...boxes.flatMap(({ pose }) => [...poseOf(pose), 0]),
  ]
  const at = new Float64Array(6 * capsules.length)
  const placed = poses.flatMap((q) => {
    for (const [arm, { joints }] of rig.arms.entries()) {
      const own = Float64Array.from(joints, (j) => q[j])
      bodies.arms[arm].place(own, at, 6 * bodies.first[arm])
    }
    const lines = capsules.flatMap((_, c) =>
      along([...at.subarray(6 * c, 6 * c + 3)], [...at.subarray(6 * c + 3, 6 * c + 6)]),
    )
    return [...lines, ...still]
  })
  const count = capsules.length + rods.length + boxes.length
  return [count, ...shapes, pairs.length, ...pairs.flatMap(({ a, b }) => [a, b]), POSES, ...placed].join('\n')
}

const folder = mkdtempSync(join(tmpdir(), 'drystroke-bench-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))
const program = join(folder, 'fcl')
const source = join(here, 'clearance-fcl.cpp')
const args = ['-O3', '-std=c++17', '-I/usr/include/eigen3', source, '-o', program, '-lfcl', '-lccd']
const built = spawnSync('g++', args, { stdio: ['ignore', 'ignore', 'inherit'] }).status === 0
const input = built ? job() : ''

let [ours, swept, theirs] = [0, 0, null]
for (let round = 0; round < ROUNDS; round++) {
  ours = Math.max(ours, posesPerSecond(allPairs))
  swept = Math.max(swept, posesPerSecond(sweep))
  if (!built) continue
  const run = spawnSync(program, { input, encoding: 'utf8' })
  if (run.status !== 0) throw new Error(`the reference failed: ${run.stderr}`)
  const line = JSON.parse(run.stdout)
  if (line.poses > (theirs?.poses ?? 0)) theirs = line
}

const round = (x, digits = 3) => Number(x.toPrecision(digits))
console.log(
  JSON.stringify({
    pairs: pairs.length,
    'pairs a second': round(ours * pairs.length),
    'sweeps from pose to pose a second': round(swept),
    reference: theirs && { 'pairs a second': round(theirs.pairs), 'poses a second': round(theirs.poses) },
    'ratio of pairs': theirs && round(ours / theirs.poses),
    'ratio of sweeps to poses': theirs && round(swept / theirs.poses),
    apart: theirs && round(Math.abs(allPairs() / theirs.sum - 1), 2),
  }),
)
