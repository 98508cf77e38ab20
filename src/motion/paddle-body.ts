/** A paddle as a body that an arm holds: an even plate of the blade's outline, all of the paddle's mass in it. */
import type { Body, Paddle, Tool } from '../files/rig.js'
import { cross } from './pose.js'

/**
 * In the blade's frame, whose origin is the centre of the plate: m w^2/12 about the shaft, m l^2/12 about the line across it, and their
 * sum about the normal. Source: a thin rectangular plate, as in any textbook of mechanics.
 */
export function paddleBody(
  { mass, length, width }: Pick<Paddle, 'mass' | 'length' | 'width'>,
  { normal, shaft }: Pick<Tool, 'normal' | 'shaft'>,
): Body {
  const across = cross(normal, shaft)
  // About the line along it and the one across it.
  const along = (mass * width * width) / 12
  const over = (mass * length * length) / 12
  const entry = (i: number, j: number): number =>
    along * shaft[i]! * shaft[j]! + over * across[i]! * across[j]! + (along + over) * normal[i]! * normal[j]!
  return {
    mass,
    centre: [0, 0, 0],
    inertia: [entry(0, 0), entry(1, 1), entry(2, 2), entry(0, 1), entry(0, 2), entry(1, 2)],
  }
}
