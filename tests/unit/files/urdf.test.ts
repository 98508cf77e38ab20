/** An arm whose chain, limits and masses stand in a URDF file: what the rig has then, and what it says for itself. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, describe, expect, test } from 'vitest'
import { loadRig, readRigFile } from '../../../src/files/load.js'
import { resolvedRigText, wholeRigText } from '../../../src/files/resolved-text.js'
import type { Pose } from '../../../src/files/rig.js'
import { Chain } from '../../../src/motion/chain.js'
import { poseOf } from '../../../src/motion/pose.js'
import { watchSchemas as realWatches } from '../../../src/watch/settings.js'
import { change } from '../../setup/runs.js'
import { watchSchemas } from './watch-schemas.js'

const file = fileURLToPath(new URL('small-urdf-rig.yaml', import.meta.url))
const text = readFileSync(file, 'utf8')
const load = (rig = text) => loadRig(rig, file, watchSchemas)
const close = (actual: ArrayLike<number>, wanted: ArrayLike<number>) => {
  expect(actual.length).toBe(wanted.length)
  for (let i = 0; i < wanted.length; i++) expect(actual[i]).toBeCloseTo(wanted[i]!, 14)
}
const closePose = (actual: Pose, wanted: Pose) => close(poseOf(actual), poseOf(wanted))

describe('an arm of a URDF file', () => {
  const { arms, joints } = load()
  const [swing, elbow] = joints

  test('has the moving joints of the chain, with the fixed ones folded into their origins', () => {
    expect(joints.map((joint) => joint.name)).toEqual(['port.swing', 'port.elbow'])
    closePose(swing!.origin, { at: [0, 0, 0.12], turn: [0, 0, 0] })
    // Over the motor, which is turned a quarter about z and stands 0.3 m up, the elbow 0.05 m above it.
    closePose(elbow!.origin, { at: [0, 0, 0.35], turn: [0, 0, Math.PI / 2] })
    expect(swing!.axis).toEqual([0, 0, 1])
  })

  test('turns about x where the file states no axis', () => {
    expect(elbow!.axis).toEqual([1, 0, 0])
  })

  test('has its tool in the frame of the tip link', () => {
    // The tip link lies 0.02 m along x, and its z is the x of the last joint.
    closePose(arms[0]!.tool.pose, { at: [0.54, 0, 0], turn: [0, Math.PI / 2, 0] })
  })

  test('has limits of the file, and those of the rig before them', () => {
    expect(swing!.limits).toMatchObject({ lower: -2.5, upper: 2.5, speed: 3, torque: 25 })
    expect(swing!.limits.acceleration).toBeCloseTo((1500 / 180) * Math.PI, 12)
    expect(elbow!.limits).toMatchObject({ speed: 4, torque: 20 })
    expect(elbow!.limits.upper).toBeCloseTo((150 / 180) * Math.PI, 12)
  })

  test('has friction of the file beside what the rig says of the train', () => {
    expect(swing!.train).toEqual({ rotor: 0.02, viscous: 0.25, coulomb: [0.5, -0.5] })
    expect(elbow!.train).toEqual({ rotor: 0, viscous: 0, coulomb: [0, 0] })
  })

  test('weighs what the links that are fixed to one another weigh, about their common centre', () => {
    // By hand: 2 kg at 0.1 m and 2 kg at 0.3 m have their centre at 0.2 m. Parallel axes: each is 0.1 m off, which adds 2 kg x (0.1 m)2
    // twice to the moments about x and y, 0.04 kg m2. The motor stands turned by a quarter about z: its xx is the link's yy.
    const { mass, centre, inertia } = swing!.body!
    expect(mass).toBe(4)
    close(centre, [0, 0, 0.2])
    close(inertia, [0.02 + 0.002 + 0.04, 0.02 + 0.001 + 0.04, 0.01 + 0.0025, 0, 0, 0])
    close(elbow!.body!.inertia, [0.01, 0.01, 0.01, 0, 0, 0])
  })

  test('may have another body in the rig', () => {
    const body =
      'body: { mass: "7 kg", centre: ["0 m", "0 m", "1 cm"], inertia: { xx: "1 kg cm2", yy: "1 kg cm2", zz: "1 kg cm2" } }'
    const own = load(change(text, /( {8})(train: .*)/, `$1${body}\n$1$2`)).joints[0]!.body!
    expect(own.mass).toBe(7)
    close(own.inertia, [1e-4, 1e-4, 1e-4, 0, 0, 0])
  })

  test('hangs on the root link when none is named', () => {
    closePose(load(change(text, 'base-link: plate, ', '')).joints[0]!.origin, swing!.origin)
    const post = load(change(text, 'base-link: plate', 'base-link: post'))
    closePose(post.joints[0]!.origin, { at: [0, 0, 0.1], turn: [0, 0, 0] })
  })

  test('may end before the file does: what is fixed to its last joint is weighed, what stands before its base is not', () => {
    const short = change(change(text, 'tip: tip', 'tip: motor'), / {6}- name: elbow[\s\S]*?(?= {4}tool)/, '')
    const notes: string[] = [...wholeRigText(short, file).notes]
    const rig = load(
      change(change(short, /\n {4}port\.elbow.*/, ''), 'constrained: [x, y]', 'constrained: [x]'),
    )
    expect(rig.joints).toHaveLength(1)
    // The elbow turns on the motor: the forearm is weighed where it is at zero, and people are told.
    expect(rig.joints[0]!.body!.mass).toBe(5)
    expect(notes.join('\n')).toMatch(
      /small-arm\.urdf:44:3: joint Elbow\.1 moves, and is not on the way to the tip/,
    )
  })

  test('says what was passed over, and what weighs nobody knows what', () => {
    const { notes } = wholeRigText(text, file)
    expect(notes).toEqual([
      `${dirname(file)}/small-arm.urdf: passed over 1 <visual>: nothing is read of them`,
    ])
  })
})

describe('the whole text of such a rig', () => {
  const whole = wholeRigText(text, file).text
  const folder = mkdtempSync(join(tmpdir(), 'drystroke-urdf-'))
  afterAll(() => rmSync(folder, { recursive: true }))

  test('is the same rig where there is no URDF file, to the last bit', () => {
    expect(loadRig(whole, join(folder, 'rig.yaml'), watchSchemas)).toEqual(load())
    const resolved = resolvedRigText(whole, watchSchemas)
    expect(loadRig(resolved, join(folder, 'rig.yaml'), watchSchemas)).toEqual(load())
    expect(resolved).not.toContain('urdf:')
  })

  test('is the text itself when no arm names one', () => {
    const plain = readFileSync(new URL('small-rig.yaml', import.meta.url), 'utf8')
    expect(wholeRigText(plain, 'small-rig.yaml')).toEqual({ text: plain, notes: [] })
  })

  test('says which joint weighs nobody knows what', () => {
    const urdf = readFileSync(join(dirname(file), 'small-arm.urdf'), 'utf8')
    const light = change(urdf, /(<link name="fore")>[\s\S]*?<\/link>/, '$1/>')
    writeFileSync(join(folder, 'small-arm.urdf'), light)
    const rigFile = join(folder, 'rig.yaml')
    expect(wholeRigText(text, rigFile).notes.at(-1)).toMatch(
      /small-arm\.urdf:39:3: joint Elbow\.1: no <inertial> in fore, tip: what it weighs is not known$/,
    )
    expect(loadRig(text, rigFile, watchSchemas).joints.map((j) => j.body === null)).toEqual([false, true])
  })
})

test('the sample with a URDF file is the demo rig', () => {
  const [demo, sample] = ['reservoir-skiff', 'reservoir-skiff-urdf'].map((name) =>
    readRigFile(fileURLToPath(new URL(`../../../rigs/${name}.yaml`, import.meta.url)), realWatches),
  )
  for (const [i, joint] of sample!.joints.entries()) {
    const { origin, limits, body, train, ...rest } = demo!.joints[i]!
    expect(joint).toMatchObject(rest)
    closePose(joint.origin, origin)
    close(Object.values(joint.limits), Object.values(limits))
    expect(joint.body!.mass).toBe(body!.mass)
    close(joint.body!.centre, body!.centre)
    close(joint.body!.inertia, body!.inertia)
    expect(joint.train.viscous).toBe(train.viscous)
    expect(joint.train.coulomb).toEqual(train.coulomb)
  }
  const blades = [demo!, sample!].map(({ arms, joints }) => {
    const chain = new Chain(
      arms[0]!,
      arms[0]!.joints.map((i) => joints[i]!),
    )
    chain.forward(Float64Array.of(0.1, 0.2, 0.3, 0.4, 0.5, 0.6))
    return chain.blade
  })
  close(blades[1]!, blades[0]!)
})
