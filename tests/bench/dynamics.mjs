/**
 * Kinematics and dynamics of one arm a second of processor time, beside the Orocos Kinematics and Dynamics Library in C++, in turns
 * in the same run. Prints one line of JSON for each thing measured; ratio 2 means twice as fast as the reference. Both are shown the
 * same states and path, and how far their results are apart stands in the line. Without g++ and the Debian packages
 * liborocos-kdl-dev and libeigen3-dev the reference is null.
 *
 *   npm run bench:dynamics
 */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { kinematicsOf, PARKED, parkPosture } from '../../dist/driver/posture.js'
import { strokesOf } from '../../dist/driver/strokes.js'
import { loadRig } from '../../dist/files/load.js'
import { Chain } from '../../dist/motion/chain.js'
import { Dynamics } from '../../dist/motion/dynamics.js'
import { Links } from '../../dist/motion/links.js'
import { POSE, poseOf } from '../../dist/motion/pose.js'
import { PARK_PHASE } from '../../dist/motion/stroke.js'
import { randomStream } from '../../dist/random.js'
import { watchSchemas } from '../../dist/watch/settings.js'

const ROUNDS = 5
const STATES = 1000
const STEPS = 2000 // a stroke of 10 s at 200 Hz

const here = fileURLToPath(new URL('.', import.meta.url))
const rigFile = join(here, '../../rigs/reservoir-skiff.yaml')
const rig = loadRig(readFileSync(rigFile, 'utf8'), rigFile, watchSchemas)
const arm = rig.arms[0]
const joints = arm.joints.map((j) => rig.joints[j])
const n = joints.length

const random = randomStream(1, 'bench')
const any = (size, count = n) => Float64Array.from({ length: count }, () => size * (2 * random.uniform() - 1))
/** Invented: what a light link weighs, its centre anywhere near, inertia of a body that could exist. */
const anyBody = () => ({
  mass: 0.5 + random.uniform(),
  centre: [...any(0.1, 3)],
  inertia: [0.02, 0.025, 0.03].map((x) => x + 0.01 * random.uniform()).concat(...any(0.002, 3)),
})
const bodies = joints.map(anyBody)
const held = anyBody()
const trains = joints.map(() => ({ rotor: 0.1 + 0.1 * random.uniform() }))
const states = Array.from({ length: STATES }, () => ({ q: any(3), qd: any(2), qdd: any(5) }))

const chain = new Chain(arm, joints)
const dynamics = new Dynamics(new Links(arm, joints, bodies, trains, held))
const path = strokesOf(rig).paths[0]
const ik = kinematicsOf(rig, arm)
const park = parkPosture(rig, arm, path, ik)
const targets = Array.from({ length: STEPS }, (_, i) => {
  const target = new Float64Array(POSE)
  path.pose({ ...PARKED, phase: (PARK_PHASE + i / STEPS) % 1 }, target)
  return target
})

const jacobian = new Float64Array(6 * n)
const matrix = new Float64Array(n * n)
const out = new Float64Array(n)
const added = (values) => {
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += values[i]
  return sum
}

/** Each goes once over all states or the whole path and returns the sum of its results, or the worst error left. */
const OURS = {
  'forward kinematics and Jacobian': () => {
    let sum = 0
    for (const { q } of states) {
      chain.forward(q)
      chain.jacobian(jacobian)
      sum += chain.blade[9] + chain.blade[10] + chain.blade[11] + added(jacobian)
    }
    return sum
  },
  'inverse dynamics': () => {
    let sum = 0
    for (const { q, qd, qdd } of states) {
      dynamics.inverse(q, qd, qdd, null, out)
      sum += added(out)
    }
    return sum
  },
  'mass matrix': () => {
    let sum = 0
    for (const { q } of states) {
      dynamics.mass(q, matrix)
      sum += added(matrix)
    }
    return sum
  },
  'forward dynamics': () => {
    let sum = 0
    for (const { q, qd, qdd } of states) {
      dynamics.forward(q, qd, qdd, null, out)
      sum += added(out)
    }
    return sum
  },
  'inverse kinematics': () => {
    const q = park.slice()
    let worst = 0
    for (const target of targets) {
      if (ik.solve(target, q) !== 'solved') throw new Error('not solved')
      if (ik.residual > worst) worst = ik.residual
    }
    return worst
  },
}
const THINGS = { 'inverse kinematics': STEPS }

/** s of processor time, all threads: others on the machine do not count. */
function spent() {
  const { user, system } = process.cpuUsage()
  return (user + system) / 1e6
}

/** Passes for a quarter of a second, after one to warm up; how many things a second, and what a pass returned. */
function measure(things, pass) {
  pass()
  const start = spent()
  let passes = 0
  let result = 0
  let seconds = 0
  do {
    result = pass()
    passes++
    seconds = spent() - start
  } while (seconds < 0.25)
  return { perSecond: (passes * things) / seconds, result }
}

/** The compiled reference: a function that runs it and gives its lines, or null. */
function reference(folder) {
  const program = join(folder, 'kdl')
  const source = join(here, 'dynamics-kdl.cpp')
  const args = ['-O3', '-I/usr/include/eigen3', source, '-o', program, '-lorocos-kdl']
  if (spawnSync('g++', args, { stdio: ['ignore', 'ignore', 'inherit'] }).status !== 0) return null
  const body = ({ mass, centre, inertia }) => [mass, ...centre, ...inertia]
  const job = [
    n,
    ...poseOf(arm.base),
    ...joints.flatMap((j, i) => [...poseOf(j.origin), ...j.axis, trains[i].rotor, ...body(bodies[i])]),
    ...[...poseOf(arm.tool.pose), ...body(held), ...dynamics.gravity],
    ...[STATES, ...states.flatMap(({ q, qd, qdd }) => [...q, ...qd, ...qdd])],
    ...[STEPS, ...park, ...targets.flatMap((t) => [...t])],
  ].join('\n')
  return () => {
    const run = spawnSync(program, { input: job, encoding: 'utf8' })
    if (run.status !== 0) throw new Error(`the reference failed: ${run.stderr}`)
    return run.stdout
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line))
  }
}

const folder = mkdtempSync(join(tmpdir(), 'drystroke-bench-'))
process.on('exit', () => rmSync(folder, { recursive: true, force: true }))
const runReference = reference(folder)
const best = new Map()
const keep = (what, found) => {
  if (found.perSecond > (best.get(what)?.perSecond ?? 0)) best.set(what, found)
}
const theirs = new Map()
for (let round = 0; round < ROUNDS; round++) {
  for (const [what, pass] of Object.entries(OURS)) keep(what, measure(THINGS[what] ?? STATES, pass))
  for (const line of runReference?.() ?? []) {
    if (line.perSecond > (theirs.get(line.what)?.perSecond ?? 0)) theirs.set(line.what, line)
  }
}

const round = (x, digits = 3) => Number(x.toPrecision(digits))
for (const [what, { perSecond, result }] of best) {
  // Of inverse kinematics the library has several solvers; the fastest counts, and all are shown.
  const lines = [...theirs.values()].filter((line) => line.what.startsWith(what))
  const fastest = lines.sort((a, b) => b.perSecond - a.perSecond)[0] ?? null
  console.log(
    JSON.stringify({
      what,
      perSecond: round(perSecond),
      reference: fastest && round(fastest.perSecond),
      ratio: fastest && round(perSecond / fastest.perSecond),
      ...(what in THINGS
        ? {
            worst: round(result),
            references: Object.fromEntries(
              lines.map((l) => [
                l.what.slice(what.length + 2),
                { perSecond: round(l.perSecond), worst: round(l.worst) },
              ]),
            ),
          }
        : { apart: fastest && round(Math.abs(result / fastest.sum - 1), 2) }),
    }),
  )
}
