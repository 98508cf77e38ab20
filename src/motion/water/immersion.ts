/**
 * The part of a flat rectangular blade that is under water, cut exactly by the surface z = -waterline of the craft
 * frame, whatever the blade's attitude; allocation-free.
 *
 * Along the shaft the blade falls into three pieces at most, at the two places where its long edges pass the surface.
 * In each the wet chord (across the shaft) is a linear function, so that Gauss-Legendre strips give area and centroid
 * without any error, and smooth loads with a very small one. Craft level, surface flat, still and undisturbed.
 *
 * Source of nodes and weights: M. Abramowitz and I. Stegun, "Handbook of Mathematical Functions" (1964), table 25.4.
 */

import { DrystrokeError } from '../../errors.js'
import type { Vector3 } from '../../files/rig.js'
import { expectPositive } from '../bounds.js'
import { cross } from '../pose.js'

/** A blade as a flat rectangle about its frame's origin; `Tool` and `Paddle` of a rig have these. */
export interface BladeShape {
  /** Unit vector in the blade frame, square to the face */
  readonly normal: Vector3
  /** Unit vector in the blade frame along the shaft */
  readonly shaft: Vector3
  /** m, along the shaft */
  readonly length: number
  /** m, across the shaft */
  readonly width: number
}

const NODES = Float64Array.of(
  -0.8611363115940526,
  -0.3399810435848563,
  0.3399810435848563,
  0.8611363115940526,
)
const WEIGHTS = Float64Array.of(
  0.3478548451374538,
  0.6521451548625461,
  0.6521451548625461,
  0.3478548451374538,
)
/** Numbers a strip, all m: its place along the shaft from the centre, the length that it stands for, its wet chord across from .. to. */
export const STRIP = 4
const PIECES = 3

export class Immersion {
  /** m2 under water at the last `at` */
  area = 0
  /** Strips of the last `at`: `STRIP` numbers each, `count` of them */
  readonly strips: Float64Array = new Float64Array(PIECES * NODES.length * STRIP)
  count = 0
  /** m, craft frame: centroid of the wet area, the blade's centre while none is wet. Where a load acts that is even over the wet area. */
  readonly centre: Float64Array = new Float64Array(3)
  /** Unit vectors in the craft frame: face normal, shaft, and across = normal x shaft */
  readonly normal: Float64Array = new Float64Array(3)
  readonly shaft: Float64Array = new Float64Array(3)
  readonly across: Float64Array = new Float64Array(3)
  readonly #shape: BladeShape
  readonly #third: Vector3
  readonly #surface: number

  /**
   * @param waterline m, how far the water lies below the craft frame's origin
   * @throws DrystrokeError `file-invalid` for a blade without extent, or directions that are no square pair of unit vectors
   */
  constructor(shape: BladeShape, waterline: number) {
    expectPositive('paddle.length', shape.length, 'm')
    expectPositive('paddle.width', shape.width, 'm')
    const { normal, shaft } = shape
    const dot = (a: Vector3, b: Vector3) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    const off = [dot(normal, normal) - 1, dot(shaft, shaft) - 1, dot(normal, shaft)]
    if (!off.every((x) => Math.abs(x) < 1e-6)) {
      throw new DrystrokeError(
        'file-invalid',
        'blade.normal and blade.shaft are no unit vectors at right angles; give two perpendicular directions',
      )
    }
    this.#shape = shape
    this.#third = cross(normal, shaft)
    this.#surface = -waterline
  }

  /** Works out what is under water at `pose`, T_craft_blade. */
  at(pose: Float64Array): void {
    const { length, width } = this.#shape
    turn(pose, this.#shape.normal, this.normal)
    turn(pose, this.#shape.shaft, this.shaft)
    turn(pose, this.#third, this.across)
    this.area = 0
    this.count = 0
    this.centre[0] = pose[9]!
    this.centre[1] = pose[10]!
    this.centre[2] = pose[11]!
    // Depth at x along the shaft and y across: depth - x sink - y slant.
    const depth = this.#surface - pose[11]!
    const sink = this.shaft[2]!
    const slant = this.across[2]!
    const end = length / 2
    const edge = width / 2
    // Where the edges y = -+edge pass the surface.
    let first = end
    let second = end
    if (sink !== 0) {
      first = Math.max(-end, Math.min(end, (depth - edge * slant) / sink))
      second = Math.max(-end, Math.min(end, (depth + edge * slant) / sink))
    }
    const low = Math.min(first, second)
    const high = Math.max(first, second)
    this.#piece(-end, low, depth, sink, slant)
    this.#piece(low, high, depth, sink, slant)
    this.#piece(high, end, depth, sink, slant)
    this.#centroid(pose)
  }

  /** Adds the strips of one piece along the shaft, if any of it is wet. */
  #piece(from: number, to: number, depth: number, sink: number, slant: number): void {
    const half = (to - from) / 2
    if (half <= 0) return
    const edge = this.#shape.width / 2
    const strips = this.strips
    for (let i = 0; i < NODES.length; i++) {
      const x = from + half * (1 + NODES[i]!)
      const here = depth - x * sink
      let y0 = -edge
      let y1 = edge
      if (slant > 0) y1 = Math.min(edge, here / slant)
      else if (slant < 0) y0 = Math.max(-edge, here / slant)
      else if (here <= 0) continue
      if (y1 <= y0) continue
      const at = STRIP * this.count++
      strips[at] = x
      strips[at + 1] = half * WEIGHTS[i]!
      strips[at + 2] = y0
      strips[at + 3] = y1
    }
  }

  #centroid(pose: Float64Array): void {
    const strips = this.strips
    let area = 0
    let along = 0
    let over = 0
    for (let at = 0; at < STRIP * this.count; at += STRIP) {
      const y0 = strips[at + 2]!
      const y1 = strips[at + 3]!
      const part = strips[at + 1]! * (y1 - y0)
      area += part
      along += part * strips[at]!
      over += (part * (y0 + y1)) / 2
    }
    this.area = area
    if (area === 0) return
    for (let i = 0; i < 3; i++) {
      this.centre[i] = pose[9 + i]! + (along * this.shaft[i]! + over * this.across[i]!) / area
    }
  }
}

/** out = R v of a pose. */
function turn(pose: Float64Array, v: Vector3, out: Float64Array): void {
  for (let i = 0; i < 3; i++) {
    out[i] = pose[3 * i]! * v[0] + pose[3 * i + 1]! * v[1] + pose[3 * i + 2]! * v[2]
  }
}
