/** Where a blade is in the craft frame, for a place in the stroke: the closed path, its shortened form and the way to the park place. */
import { DrystrokeError } from '../errors.js'
import type { Arm, Craft, StrokeSettings } from '../files/rig.js'
import { cross } from './pose.js'
import { quinticTime } from './quintic.js'
import { StrokeShape } from './stroke.js'

/** A place in the stroke; see motion/side.ts. */
export interface StrokePlace {
  /** [0, 1) */
  readonly phase: number
  /** 0..1, shortens the stroke about its middle */
  readonly reach: number
  /** 0 on the path, 1 straight above it at the height of the recovery */
  readonly lift: number
  /** With `lift` 1: 0 straight above the path, 1 at the park place */
  readonly carry: number
}

/** m from the blade's centre to its lowest edge when it is square and tilted by the lean. */
export function squareDrop(stroke: Pick<StrokeSettings, 'lean'>, paddle: Arm['paddle']): number {
  return drop(stroke.lean, paddle, 1)
}

function drop(lean: number, paddle: Arm['paddle'], cosTurn: number): number {
  return (paddle.length * Math.cos(lean) + paddle.width * Math.abs(Math.sin(lean)) * cosTurn) / 2
}

/** Share of the rise from drive depth to recovery height at which the blade's lowest edge leaves the water. */
export function wetShare(stroke: StrokeSettings, paddle: Arm['paddle']): number {
  const depth = stroke.immersion + squareDrop(stroke, paddle)
  return depth / (depth + stroke.clearance)
}

/** The shape that the strokes of all arms of a rig share: every paddle must be out of the water before it turns. */
export function strokeShape(stroke: StrokeSettings, paddles: readonly Arm['paddle'][]): StrokeShape {
  return new StrokeShape(stroke.length, stroke.even, Math.max(...paddles.map((p) => wetShare(stroke, p))))
}

/** m/s, m/s2, rad/s, rad/s2: how fast a blade goes to its park place. Common practice for an unhurried move, no source. */
const PARK = { speed: 0.25, acceleration: 0.8, turnSpeed: 1.6, turnAcceleration: 6 }

/** s that lifting straight up and carrying to the park place take, from the deepest and the farthest point of the stroke. */
export function parkTimes(
  stroke: StrokeSettings,
  paddles: readonly Arm['paddle'][],
): { lift: number; carry: number } {
  const depth = Math.max(
    ...paddles.map((paddle) => stroke.immersion + squareDrop(stroke, paddle) + stroke.clearance),
  )
  return {
    lift: quinticTime(depth, PARK.speed, PARK.acceleration),
    carry: Math.max(
      // The path reaches a little beyond catch and exit.
      quinticTime(0.55 * stroke.length, PARK.speed, PARK.acceleration),
      quinticTime(stroke.feather, PARK.turnSpeed, PARK.turnAcceleration),
    ),
  }
}

export class BladePath {
  readonly #shape: StrokeShape
  readonly #stroke: StrokeSettings
  readonly #paddle: Arm['paddle']
  /** +1 port, -1 starboard */
  readonly #side: 1 | -1
  /** m */
  readonly #y: number
  readonly #surface: number
  /** m, lowest edge in the drive, above the surface (negative) */
  readonly #lowest: number
  /** Blade-frame columns: face normal, shaft, third axis. */
  readonly #tool: Float64Array

  /** @throws DrystrokeError `file-invalid` for a blade whose normal is not square to its shaft, or a feather beyond 90 deg */
  constructor(
    shape: StrokeShape,
    stroke: StrokeSettings,
    craft: Craft,
    arm: Pick<Arm, 'name' | 'side' | 'tool' | 'paddle'>,
  ) {
    const { normal, shaft } = arm.tool
    const slant = normal[0] * shaft[0] + normal[1] * shaft[1] + normal[2] * shaft[2]
    if (Math.abs(slant) > 1e-6) {
      throw new DrystrokeError(
        'file-invalid',
        `the blade of arm ${arm.name} has a face normal that is not at right angles to its shaft; give two perpendicular directions`,
        { arm: arm.name },
      )
    }
    if (Math.abs(stroke.feather) > Math.PI / 2) {
      throw new DrystrokeError(
        'file-invalid',
        'stroke.feather is beyond 90 deg; give an angle from 0 to 90 deg',
      )
    }
    this.#shape = shape
    this.#stroke = stroke
    this.#paddle = arm.paddle
    this.#side = arm.side === 'port' ? 1 : -1
    this.#y = (this.#side * craft.track) / 2
    this.#surface = -craft.waterline
    this.#lowest = -stroke.immersion - squareDrop(stroke, arm.paddle)
    this.#tool = Float64Array.from([...normal, ...shaft, ...cross(normal, shaft)])
  }

  /** Writes T_craft_blade at a place in the stroke to `out`. */
  pose(place: StrokePlace, out: Float64Array): void {
    const { middle, clearance, feather, lean } = this.#stroke
    const shape = this.#shape
    shape.at(place.phase)
    const forward = place.reach * shape.x.value * (1 - place.carry)
    const turn = shape.turn.value + place.carry * (1 - shape.turn.value)
    const rise = shape.rise.value + place.lift * (1 - shape.rise.value)
    const angle = turn * feather
    const bottom = this.#lowest + rise * (clearance - this.#lowest)
    out[9] = middle + forward
    out[10] = this.#y
    out[11] = this.#surface + bottom + drop(lean, this.#paddle, Math.cos(angle))
    // Square: shaft down with its tip outboard, face aft. Feathering turns about the shaft, mirrored port to starboard.
    const side = this.#side
    const sy = side * Math.sin(lean)
    const sz = -Math.cos(lean)
    const c = Math.cos(angle)
    const s = side * Math.sin(angle)
    // normal = cos (-x) + sin (shaft x -x)
    const nx = -c
    const ny = -s * sz
    const nz = s * sy
    const tx = ny * sz - nz * sy
    const ty = -nx * sz
    const tz = nx * sy
    const k = this.#tool
    for (let j = 0; j < 3; j++) {
      const a = k[j]!
      const b = k[3 + j]!
      const d = k[6 + j]!
      out[j] = nx * a + tx * d
      out[3 + j] = ny * a + sy * b + ty * d
      out[6 + j] = nz * a + sz * b + tz * d
    }
  }
}
