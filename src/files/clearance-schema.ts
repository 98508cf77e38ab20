/** How a rig file says what the arms must keep clear of, and how thick they are. */
import { z } from 'zod'
import { list, name, pose, section } from './fields.js'
import { quantity } from './quantity.js'
import type { Vector3 } from './rig.js'

const radius = (about: string) => quantity('length', about, { min: '1 mm', max: '2 m' })

function point(about: string) {
  const at = quantity('length', 'x, y or z in the craft frame', { min: '-20 m', max: '20 m' })
  return z
    .tuple([at, at, at], { error: 'three values with units, such as ["0 m", "0.5 m", "0.2 m"]' })
    .meta({ description: about })
    .transform((value): Vector3 => value)
}

const capsuleForm = section('All that is nearer to a straight line than a radius', {
  shape: z.literal('capsule'),
  from: point('one end of the line, in the craft frame'),
  to: point('the other end; the same for a ball'),
  radius: radius('about the line'),
})

const side = quantity('length', 'of the box along its own x, y or z', { above: '0 m', max: '30 m' })

const boxForm = section('A box, in any direction', {
  shape: z.literal('box'),
  pose: pose('of the centre of the box in the craft frame'),
  size: z
    .tuple([side, side, side], { error: 'three values with units, such as ["4 m", "1.2 m", "0.4 m"]' })
    .meta({ description: 'from face to face, along x, y and z of the box' })
    .transform((value): Vector3 => value),
  rounding: quantity('length', 'by which the box is larger all round, with round edges', {
    min: '0 m',
    max: '2 m',
  }).prefault('0 mm'),
})

const partForm = z
  .discriminatedUnion('shape', [capsuleForm, boxForm], {
    error: 'a section with the keys shape: capsule, from, to, radius, or shape: box, pose, size, rounding',
  })
  .meta({ description: 'One body of the volume' })

const keepOutForm = section('A volume that is fixed to the craft and that no arm may come near', {
  name: name('of the volume: hull, gunwale, person ...'),
  parts: list(partForm, 'bodies that make up the volume', 1, 32),
})

const pairMessage = 'two names, such as ["port.shoulder", "gunwale"]'
const pairForm = z.tuple([z.string({ error: pairMessage }), z.string({ error: pairMessage })], {
  error: pairMessage,
})

/** Left out as a whole where nobody has measured the arms: then no distances are watched. */
export const clearanceForm = section('How thick the arms are, and what they must keep clear of', {
  least: quantity('length', 'between surfaces; nearer is a failure, and stops the arms', {
    min: '1 mm',
    max: '2 m',
  }).prefault('50 mm'),
  warn: quantity('length', 'between surfaces; nearer is a warning', { min: '1 mm', max: '2 m' }).prefault(
    '100 mm',
  ),
  base: radius('about what stands between the base of an arm and its first joint'),
  links: z
    .record(z.string(), radius('about the link that the joint moves, up to the next joint'), {
      error: 'a section with one radius for each joint, such as port.elbow: "40 mm"',
    })
    .meta({ description: 'One radius for each joint, named arm.joint; the last of an arm is a ball' }),
  paddle: radius('about the shaft of a paddle, from the last joint to the blade'),
  'keep-out': list(keepOutForm, 'volumes that are fixed to the craft', 0, 32).prefault([]),
  'left-out': list(
    pairForm,
    'pairs that are not looked at: of arm.joint, arm.base, arm.shaft, arm.blade, or a volume',
    0,
    256,
  ).prefault([]),
})
