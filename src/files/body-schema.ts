/** How a rig file says what a joint's link weighs, what stands in its drive train, and what its drive bears. */
import { z } from 'zod'
import { whyUnphysical } from './body.js'
import { optionalSection, section } from './fields.js'
import { quantity } from './quantity.js'
import type { Body } from './rig.js'

const coordinate = quantity('length', 'x, y or z in the frame of the joint', { min: '-20 m', max: '20 m' })
const moment = (axis: string) =>
  quantity('inertia', `moment about ${axis} through the centre of mass`, {
    above: '0 kg m2',
    max: '10000 kg m2',
  })
const product = (axes: string) =>
  quantity('inertia', `entry ${axes} of the inertia matrix: minus the integral of ${axes}`, {
    min: '-10000 kg m2',
    max: '10000 kg m2',
  }).prefault('0 kg m2')

export const bodyForm = section('What turns with the joint, up to the next one; the paddle is stated apart', {
  mass: quantity('mass', 'of it all', { above: '0 kg', max: '500 kg' }),
  centre: z
    .tuple([coordinate, coordinate, coordinate], {
      error: 'three values with units, such as ["0 m", "0 m", "0.12 m"]',
    })
    .meta({ description: 'of mass, in the frame of the joint' }),
  inertia: section('About the centre of mass, axes of the frame of the joint', {
    xx: moment('x'),
    yy: moment('y'),
    zz: moment('z'),
    xy: product('xy'),
    xz: product('xz'),
    yz: product('yz'),
  }),
}).transform(({ mass, centre, inertia: { xx, yy, zz, xy, xz, yz } }, context): Body => {
  const body: Body = { mass, centre, inertia: [xx, yy, zz, xy, xz, yz] }
  const why = whyUnphysical(body)
  if (why === null) return body
  context.issues.push({
    code: 'custom',
    path: ['inertia'],
    message: `moments of inertia that a body can have: ${why}`,
    input: body,
  })
  return z.NEVER
})

const forwards = quantity('torque', 'that dry friction takes as the joint turns forwards', {
  min: '0 N m',
  max: '5000 N m',
})
const backwards = quantity('torque', 'that dry friction takes as the joint turns backwards', {
  min: '-5000 N m',
  max: '0 N m',
})

export const trainForm = optionalSection(
  'Motor, gear and bearings, as seen at the joint; ideal if left out',
  {
    rotor: quantity('inertia', "of motor and gear: gear ratio squared times the rotor's own", {
      min: '0 kg m2',
      max: '10000 kg m2',
    }).prefault('0 kg m2'),
    viscous: quantity('viscous friction', 'torque a speed', {
      min: '0 N m s/rad',
      max: '10000 N m s/rad',
    }).prefault('0 N m s/rad'),
    coulomb: z
      .tuple([forwards, backwards], {
        error: 'dry friction forwards and backwards, such as ["0.5 N m", "-0.5 N m"]',
      })
      .meta({ description: 'dry friction forwards and backwards' })
      .prefault(['0 N m', '0 N m']),
  },
)

export const ratingForm = section("What the drive bears, as its maker's data sheet has it", {
  continuous: quantity('torque', 'at the joint, for any length of time', { above: '0 N m', max: '5000 N m' }),
  peak: quantity('torque', "at the joint, for a moment; left out: the joint's torque limit", {
    above: '0 N m',
    max: '5000 N m',
  }).optional(),
  'warm-up': quantity('time', 'thermal time constant of the drive', {
    above: '0 s',
    max: '1000 min',
  }).optional(),
})
