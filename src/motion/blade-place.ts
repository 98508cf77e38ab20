/** Where a blade is and how it is turned, read from its pose; allocation-free. */
import type { Arm, Rig, Vector3 } from '../files/rig.js'
import { cross } from './pose.js'

export class BladePlace {
  /** T_craft_blade, as poses are here: three rows of turns, then the place */
  readonly pose: Float64Array
  readonly #tool: Pick<Arm['tool'], 'normal' | 'shaft'>
  readonly #across: Vector3
  readonly #length: number
  readonly #width: number
  readonly #side: 1 | -1
  readonly #surface: number

  /** @param pose is read whenever something is asked for: whoever writes it moves the blade */
  constructor({ craft }: Pick<Rig, 'craft'>, { tool, paddle, side }: Arm, pose: Float64Array) {
    this.pose = pose
    this.#tool = tool
    this.#across = cross(tool.normal, tool.shaft)
    this.#length = paddle.length
    this.#width = paddle.width
    this.#side = side === 'port' ? 1 : -1
    this.#surface = -craft.waterline
  }

  /** m, craft frame, of the blade's centre */
  get x(): number {
    return this.pose[9]!
  }

  /** m, of the blade's centre below the water's surface */
  get depth(): number {
    return this.#surface - this.pose[11]!
  }

  /** m by which the lowest edge of the blade stands above the water */
  get clearance(): number {
    const { shaft } = this.#tool
    const drop =
      Math.abs(this.#row(6, shaft)) * this.#length + Math.abs(this.#row(6, this.#across)) * this.#width
    return -this.depth - drop / 2
  }

  /**
   * rad, turn of the blade about its shaft from square (face aft), positive the way in which the rig's stroke feathers: mirrored
   * port to starboard. As BladePath has it: face = cos (-x) + sin (shaft x -x).
   */
  get angle(): number {
    const { normal, shaft } = this.#tool
    const aft = -this.#row(0, normal)
    // shaft x (-x) = (0, -shaft z, shaft y)
    const turned = this.#row(3, shaft) * this.#row(6, normal) - this.#row(6, shaft) * this.#row(3, normal)
    return this.#side * Math.atan2(turned, aft)
  }

  /** One axis of the craft frame along a direction of the blade's frame. @param row 0: x, 3: y, 6: z */
  #row(row: 0 | 3 | 6, v: Vector3): number {
    const t = this.pose
    return t[row]! * v[0] + t[row + 1]! * v[1] + t[row + 2]! * v[2]
  }
}
