/** Inverse kinematics along a fine stroke path, warm-started. Writes the path and the arm for the reference; prints solves/s. */
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { kinematicsOf, PARKED, parkPosture } from '../../dist/driver/posture.js'
import { strokesOf } from '../../dist/driver/strokes.js'
import { loadRig } from '../../dist/files/load.js'
import { POSE } from '../../dist/motion/pose.js'
import { PARK_PHASE } from '../../dist/motion/stroke.js'
import { watchSchemas } from '../../dist/watch/settings.js'

const [file] = process.argv.slice(2)
const rigFile = join(fileURLToPath(new URL('../../', import.meta.url)), 'rigs/reservoir-skiff.yaml')
const rig = loadRig(readFileSync(rigFile, 'utf8'), rigFile, watchSchemas)
const arm = rig.arms[0]
const path = strokesOf(rig).paths[0]
const ik = kinematicsOf(rig, arm)
const park = parkPosture(rig, arm, path, ik)

const STEPS = 2000 // a stroke of 10 s at 200 Hz
const targets = Array.from({ length: STEPS }, (_, i) => {
  const target = new Float64Array(POSE)
  path.pose({ ...PARKED, phase: (PARK_PHASE + i / STEPS) % 1 }, target)
  return target
})
const joints = arm.joints.map((j) => rig.joints[j])
writeFileSync(
  file,
  JSON.stringify({
    base: arm.base,
    tool: arm.tool.pose,
    joints,
    park: [...park],
    targets: targets.map((t) => [...t]),
  }),
)

let worst = 0
function strokes(n) {
  const q = park.slice()
  const t0 = performance.now()
  for (let k = 0; k < n; k++) {
    for (const target of targets) {
      if (ik.solve(target, q) !== 'solved') throw new Error('not solved')
      if (ik.residual > worst) worst = ik.residual
    }
  }
  return (1000 * n * STEPS) / (performance.now() - t0)
}
strokes(20)
console.log(JSON.stringify({ solvesPerSecond: Math.max(strokes(100), strokes(100), strokes(100)), worst }))
