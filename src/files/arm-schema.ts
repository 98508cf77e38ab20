/** How an arm of a rig file is written: joints from base to tip, their limits, loads and wire bindings, the blade. */
import { z } from 'zod'
import { bodyForm, ratingForm, trainForm } from './body-schema.js'
import { choice, direction, list, name, number, pose, section, whole } from './fields.js'
import { quantity } from './quantity.js'
import type { Vector3 } from './rig.js'
import { flowForm } from './water-schema.js'

const BLADE_AXES = ['x', 'y', 'z', 'feather', 'lean', 'pitch'] as const

const TURN = 2 * Math.PI
/** 607Ah and 6064h are INTEGER32 (IEC 61800-7-201). */
const LEAST_COUNT = -(2 ** 31)
const GREATEST_COUNT = 2 ** 31 - 1
/** 6072h is UNSIGNED16, in thousandths of the rated torque. */
const GREATEST_TORQUE_RATIO = 65.535

const angle = quantity('angle', 'a joint position', { min: '-3600 deg', max: '3600 deg' })
const pairMessage = 'the lower and the upper limit, such as ["-90 deg", "90 deg"]'
const positionLimits = z
  .tuple([angle, angle], { error: pairMessage })
  .meta({ description: 'lower and upper' })
  .refine(([lower, upper]) => lower < upper, { error: 'the lower limit first and the upper limit above it' })
const speed = quantity('angular speed', 'either way', { above: '0 deg/s', max: '3600 deg/s' })
const acceleration = quantity('angular acceleration', 'either way', {
  above: '0 deg/s2',
  max: '1000000 deg/s2',
})
const torque = quantity('torque', 'either way', { above: '0 N m', max: '5000 N m' })

const limitsForm = section('What the joint must keep', {
  position: positionLimits,
  speed,
  acceleration,
  torque,
})

const bus = name('of a bus in `buses`')

const cia402Form = section('The CiA 402 drive that moves the joint', {
  protocol: z.literal('cia402').optional().meta({ description: 'cia402 where it is left out' }),
  bus,
  node: whole('CANopen node id; 127 is the harness itself', 1, 126),
  'counts-per-turn': number('encoder counts a turn of the joint, gear included', 16, 2 ** 31),
  sign: choice('1: counts rise as the joint turns right-handed about its axis', [1, -1]),
  zero: quantity('count', 'at joint position zero', {
    min: `${LEAST_COUNT} counts`,
    max: `${GREATEST_COUNT} counts`,
  }),
  'rated-torque': quantity('torque', 'object 6076h, the unit of torque on the wire', {
    min: '0.001 N m',
    max: '5000 N m',
  }),
})

const framesForm = section('The drive that moves the joint, which speaks frames of its own', {
  protocol: z.literal('frames'),
  bus,
  map: name('of a map in `frame-maps`'),
  node: whole('number of the drive on its bus, for the identifiers of the map', 0, 2047),
  sign: choice(
    '1: what the drive calls its position rises as the joint turns right-handed about its axis',
    [1, -1],
  ),
  zero: quantity('angle', "the drive's own position at joint position zero", {
    min: '-36000 deg',
    max: '36000 deg',
  }),
})

const wireForm = z
  .discriminatedUnion('protocol', [cia402Form, framesForm], {
    error:
      'a section with the keys bus, node, counts-per-turn, sign, zero, rated-torque, or protocol: frames',
  })
  .meta({ description: 'The drive that moves the joint' })

const jointName = name('of the joint, one of its kind in the arm')

const jointForm = section('One joint', {
  name: jointName,
  origin: pose('of the joint in the frame of the one before it (the first: in the base), at position zero'),
  axis: direction('in the frame of the joint; it turns right-handed about it'),
  limits: limitsForm,
  body: bodyForm.optional(),
  train: trainForm,
  rating: ratingForm.optional(),
  wire: wireForm,
}).superRefine(({ limits, rating, wire }, context) => {
  if (rating && rating.continuous > (rating.peak ?? limits.torque)) {
    const message = `at least the continuous torque, ${rating.continuous} N m; left out it is limits.torque`
    context.addIssue({ code: 'custom', path: ['rating', 'peak'], message })
  }
  if (wire.protocol === 'frames') return
  const counts = limits.position.map((p) => wire.zero + (wire.sign * p * wire['counts-per-turn']) / TURN)
  if (counts.some((c) => c < LEAST_COUNT || c > GREATEST_COUNT)) {
    const message =
      'position limits that stay within 32 bits of counts (object 607Ah) with this counts-per-turn and zero'
    context.addIssue({ code: 'custom', path: ['wire', 'counts-per-turn'], message })
  }
  if (limits.torque > GREATEST_TORQUE_RATIO * wire['rated-torque']) {
    const message = `at most ${GREATEST_TORQUE_RATIO} times the rated torque, the most that object 6072h can say`
    context.addIssue({ code: 'custom', path: ['limits', 'torque'], message })
  }
})

/** Directions written with three digits are square enough; the rest is taken out on load. */
const SQUARE_ENOUGH = 2e-3

const bladeForm = section('How the blade lies in the tool frame', {
  normal: direction('out of the face that pushes the water when the craft goes ahead'),
  shaft: direction('along the shaft towards the tip of the blade'),
  constrained: list(
    choice('a freedom of the blade', BLADE_AXES),
    'freedoms that the driver must hold',
    1,
    6,
  ).refine((axes) => new Set(axes).size === axes.length, { error: 'each axis once' }),
}).transform((blade, context) => {
  const { normal, shaft } = blade
  const along = normal[0] * shaft[0] + normal[1] * shaft[1] + normal[2] * shaft[2]
  if (Math.abs(along) <= SQUARE_ENOUGH) return { ...blade, normal: squared(normal, shaft, along) }
  context.issues.push({
    code: 'custom',
    path: ['normal'],
    message: 'a direction square to the shaft, because the face of a blade lies along its shaft',
    input: blade,
  })
  return z.NEVER
})

/** Takes the part along `shaft` out of `normal`. */
function squared(normal: Vector3, shaft: Vector3, along: number): Vector3 {
  const part = (i: 0 | 1 | 2) => normal[i] - along * shaft[i]
  const length = Math.hypot(part(0), part(1), part(2))
  return [part(0) / length, part(1) / length, part(2) / length]
}

const paddleForm = section('Half a paddle', {
  mass: quantity('mass', 'with its mounting', { above: '0 kg', max: '50 kg' }),
  area: quantity('area', 'of one face of the blade', { min: '1 cm2', max: '1 m2' }),
  length: quantity('length', 'of the blade along the shaft', { min: '1 cm', max: '2 m' }),
  width: quantity('length', 'of the blade across the shaft', { min: '1 cm', max: '2 m' }),
  flow: flowForm,
}).superRefine(({ area, length, width }, context) => {
  const most = length * width
  // Conversion rounds: "300 cm2" fills "20 cm" times "15 cm".
  if (area <= most * (1 + 1e-12)) return
  const message = `at most ${Number(most.toPrecision(6))} m2, the length of the blade times its width`
  context.addIssue({ code: 'custom', path: ['area'], message })
})

/** What one arm says, whichever way its joints are written. */
function arm<U extends z.ZodType, J extends z.ZodType>(urdf: U, joints: J, tool: string) {
  return section('One arm', {
    name: name('of the arm'),
    side: choice('of the craft', ['port', 'starboard']),
    payload: quantity('mass', 'what the arm may carry', { above: '0 kg', max: '500 kg' }),
    base: pose('of the base in the craft frame: x forward, y to port, z up'),
    urdf,
    joints,
    tool: pose(`of the centre of the blade in the frame of ${tool}`),
    blade: bladeForm,
    paddle: paddleForm,
  })
}

interface Freedoms {
  readonly blade: { readonly constrained: readonly unknown[] }
  readonly joints: readonly unknown[]
}

function enoughJoints({ blade, joints }: Freedoms, context: z.RefinementCtx): void {
  const most = joints.length
  if (blade.constrained.length <= most) return
  const message = `at most ${most} axes, because the arm has ${most} joints`
  context.addIssue({ code: 'custom', path: ['blade', 'constrained'], message })
}

/** All of it by hand. */
export const armForm = arm(
  z.never().optional(),
  list(jointForm, 'from base to tip', 1, 64),
  'the last joint',
).superRefine(enoughJoints)

const linkName = (about: string) =>
  z
    .string({ error: 'the name of a link of the URDF file' })
    .min(1, { error: 'the name of a link of the URDF file' })
    .meta({ description: about })

const urdfForm = section('The URDF file that says how the arm is built', {
  file: z
    .string({ error: 'the path of a URDF file, from the folder of this file' })
    .min(1, { error: 'the path of a URDF file, from the folder of this file' })
    .meta({ description: 'its path, from the folder of this file', examples: ['light-arm.urdf'] }),
  'base-link': linkName(
    'in whose frame the craft carries the arm; left out: the root of the file',
  ).optional(),
  tip: linkName('that carries the paddle; the joints are those between the base link and it'),
})

const urdfJointForm = section('One joint of the URDF file: what it cannot say, or shall say otherwise', {
  name: jointName,
  urdf: z
    .string({ error: 'the name of a joint of the URDF file' })
    .min(1, { error: 'the name of a joint of the URDF file' })
    .meta({ description: 'its name in the URDF file; left out: the same' })
    .optional(),
  limits: section('What the joint must keep; left out: as the URDF file has it', {
    position: positionLimits.optional(),
    speed: speed.optional(),
    acceleration,
    torque: torque.optional(),
  }),
  body: bodyForm.optional(),
  train: trainForm,
  rating: ratingForm.optional(),
  wire: wireForm,
})

/** As a rig file may write it: by hand, or with a URDF file. */
export const writtenArmForm = z.union([
  armForm,
  arm(urdfForm, list(urdfJointForm, 'of the chain, from base to tip', 1, 64), 'the tip link').superRefine(
    enoughJoints,
  ),
])
