/**
 * Inverse kinematics by damped least squares, warm-started, for any number of joints and any subset of the blade's
 * freedoms.
 *
 * Step: dq = J^T (J J^T + mu I)^-1 (e - J g) + g, with g = middle of the joint ranges - q for arms that have joints to
 * spare (the second part moves in the null space only) and g = 0 otherwise. mu = |e|^2 / 2, so that far from the goal the
 * step is short and near it this is Newton's method.
 * Sources: C. W. Wampler, IEEE Trans. Systems, Man, Cybernetics 16(1):93-101 (1986), damped least squares; A. Liegeois, ibid.
 * 7(12):868-871 (1977), null-space motion; T. Sugihara, IEEE Trans. Robotics 27(5):984-991 (2011), damping by the error.
 *
 * From near by, as from one control period to the next, an arm with six joints that hold all six freedoms is led by Newton's method
 * undamped, with the Jacobian inverted by blocks (six-joints.ts): dq = J^-1 (e - b / 2), b = the bend J' dq of the way along J^-1 e
 * (Chebyshev's method: J. F. Traub, "Iterative Methods for the Solution of Equations", 1964, from memory). At these distances the damping is
 * nothing, and two such steps do where damped ones take three. Where an error does not shrink as it must, the way above is
 * gone from the start.
 *
 * A spare joint so ends where all joints together are nearest to the middle of their ranges: a function of the pose, so that a
 * closed path closes in joint space. That point may lie outside a range although another would not; it is then refused.
 *
 * Singularity measure: 1 / ||J+||, J the Jacobian of the constrained freedoms with metres divided by `Chain.scale`, J+ its
 * pseudo-inverse, Frobenius norm. Without dimension; zero at a singular pose. It never exceeds the smallest singular value
 * and is at least that over the root of the number of freedoms; unlike that value it is smooth, and it costs one
 * triangular inverse: ||J+||^2 = trace (J J^T)^-1.
 */
import type { BladeAxis, Joint, Tool, Vector3 } from '../files/rig.js'
import type { Chain } from './chain.js'
import { factor, inverseTrace, solve } from './cholesky.js'
import { cross, rotationBetween } from './pose.js'
import { singularValues } from './singular-values.js'
import { SixJoints } from './six-joints.js'

/** m and rad: how well a solution meets each constrained freedom. */
const TOLERANCE = 1e-12
/** rad: how far a spare joint may be from where the null-space pull would bring it. */
const SETTLED = 1e-9
const MOST_STEPS = 100
/** rad, longest step of one joint: the linear model is worth nothing beyond it. */
const LONGEST = 0.5
/** Square of an error, metres scaled, that counts as near by; and what must at least be left of it after a step of Newton's method. */
const NEAR = 1e-2
const SHRUNK = 1e-2
/** Square of an error on whose way no bend is to be seen. */
const STRAIGHT = 1e-13

/** `limit`: the solution found lies outside a joint's range; `joint` says which. */
export type IkOutcome = 'solved' | 'no-solution' | 'limit'

const POSITION_AXES = ['x', 'y', 'z'] as const

export class InverseKinematics {
  /** After `solve`: place in the chain of the joint that is farthest outside its range, or nearest to its end. */
  joint = 0
  /** After `solve`: rad, least distance of a joint from an end of its range; negative outside. */
  margin = 0
  /** After `solve`: the singularity measure at the solution. */
  singularity = 0
  /** After `solve`: no freedom has a greater error left, in the unit of the one that has it. */
  residual = 0
  residualUnit: 'm' | 'rad' = 'm'
  readonly chain: Chain
  readonly #limits: readonly Pick<Joint['limits'], 'lower' | 'upper'>[]
  readonly #middle: Float64Array
  readonly #m: number
  /** Which of x, y, z each position row is. */
  readonly #positions: readonly number[]
  /** Blade-frame directions of the rotation rows, three numbers each. */
  readonly #turns: Float64Array
  /** The same in the craft frame, at the target. */
  readonly #directions: Float64Array
  readonly #jacobian: Float64Array
  readonly #rows: Float64Array
  readonly #square: Float64Array
  readonly #error: Float64Array
  readonly #right: Float64Array
  readonly #rotation = new Float64Array(3)
  readonly #turned: Float64Array
  readonly #step: Float64Array
  /** null: the arm has other than six joints, or holds fewer freedoms */
  readonly #six: SixJoints | null
  readonly #start: Float64Array
  readonly #twist = new Float64Array(6)
  readonly #bent = new Float64Array(6)

  /** @param limits of the chain's joints, in order */
  constructor(
    chain: Chain,
    tool: Pick<Tool, 'normal' | 'shaft' | 'constrained'>,
    limits: readonly Pick<Joint['limits'], 'lower' | 'upper'>[],
  ) {
    this.chain = chain
    this.#limits = limits
    this.#middle = Float64Array.from(limits, ({ lower, upper }) => (lower + upper) / 2)
    this.#positions = POSITION_AXES.map((axis, i) => (tool.constrained.includes(axis) ? i : -1)).filter(
      (i) => i >= 0,
    )
    const third = cross(tool.normal, tool.shaft)
    const directions: [BladeAxis, Vector3][] = [
      ['feather', tool.shaft],
      ['lean', tool.normal],
      ['pitch', third],
    ]
    this.#turns = Float64Array.from(
      directions.filter(([axis]) => tool.constrained.includes(axis)).flatMap(([, v]) => v),
    )
    const m = this.#positions.length + this.#turns.length / 3
    const n = chain.n
    this.#directions = new Float64Array(this.#turns.length)
    this.#m = m
    this.#jacobian = new Float64Array(6 * n)
    this.#rows = new Float64Array(m * n)
    this.#square = new Float64Array(m * m)
    this.#error = new Float64Array(m)
    this.#right = new Float64Array(m)
    this.#step = new Float64Array(n)
    this.#turned = new Float64Array(m * n)
    this.#start = new Float64Array(n)
    this.#six = n === 6 && m === 6 ? new SixJoints(chain) : null
  }

  /** How many freedoms of the blade are held. */
  get held(): number {
    return this.#m
  }

  /**
   * Singular values, falling, of the Jacobian that `singularity` measures: at the pose of the last `solve`, which must have found one.
   * @param out one for each freedom held
   */
  singularValues(out: Float64Array): void {
    this.#layAtSolution()
    this.#turned.set(this.#rows)
    singularValues(this.#turned, this.#m, this.chain.n, out)
  }

  /**
   * Finds joint positions that put the blade at `target` in every constrained freedom.
   * @param target T_craft_blade
   * @param q rad; in: where to start; out: the solution. Only `solved` makes it one: within `TOLERANCE` and inside all ranges.
   */
  solve(target: Float64Array, q: Float64Array): IkOutcome {
    if (!this.#follow(target, q) && !this.#seek(target, q)) return 'no-solution'
    this.singularity = 1 / Math.sqrt(this.#inverseTrace())
    return this.#inRange(q) ? 'solved' : 'limit'
  }

  /** By Newton's method from near by. @returns false: it does not lead there, and q is as it was */
  #follow(target: Float64Array, q: Float64Array): boolean {
    const six = this.#six
    if (six === null) return false
    const chain = this.chain
    const twist = this.#twist
    const step = this.#step
    const bent = this.#bent
    this.#start.set(q)
    chain.forward(q)
    for (let most = NEAR; ; ) {
      const size = this.#twistTo(target)
      if (this.residual <= TOLERANCE) return true
      if (!(size <= most) || !six.take()) break
      six.solve(twist, step)
      if (size > STRAIGHT) {
        chain.bend(step, twist)
        six.solve(twist, bent)
        for (let i = 0; i < 6; i++) step[i]! -= bent[i]! / 2
      }
      for (let i = 0; i < 6; i++) q[i]! += step[i]!
      chain.forwardBy(step)
      most = SHRUNK * size
    }
    q.set(this.#start)
    return false
  }

  /** Fills the whole twist that is left to the target; returns its square, metres scaled. */
  #twistTo(target: Float64Array): number {
    const { blade, scale } = this.chain
    const twist = this.#twist
    const w = this.#rotation
    const x = target[9]! - blade[9]!
    const y = target[10]! - blade[10]!
    const z = target[11]! - blade[11]!
    rotationBetween(blade, target, w)
    twist[0] = x
    twist[1] = y
    twist[2] = z
    twist[3] = w[0]!
    twist[4] = w[1]!
    twist[5] = w[2]!
    const way = x * x + y * y + z * z
    const turn = w[0]! * w[0]! + w[1]! * w[1]! + w[2]! * w[2]!
    this.residual = Math.sqrt(Math.max(way, turn))
    this.residualUnit = turn > way ? 'rad' : 'm'
    return way / (scale * scale) + turn
  }

  /** By damped least squares from anywhere. @returns false: it ends at no solution */
  #seek(target: Float64Array, q: Float64Array): boolean {
    const n = this.chain.n
    const m = this.#m
    const spare = n > m
    const step = this.#step
    this.#pointAt(target)
    for (let count = 0; ; count++) {
      this.chain.forward(q)
      const size = this.#lookAt(target)
      const met = this.residual <= TOLERANCE
      if ((met && !spare) || count === MOST_STEPS) return met
      this.#layRows()
      this.#squareUp(size / 2 + 1e-24)
      factor(this.#square, m)
      this.#steer(q, spare ? pull(count) : 0)
      let longest = 0
      for (let i = 0; i < n; i++) longest = Math.max(longest, Math.abs(step[i]!))
      if (met && longest <= SETTLED) return true
      const share = longest > LONGEST ? LONGEST / longest : 1
      for (let i = 0; i < n; i++) q[i] = q[i]! + share * step[i]!
    }
  }

  /** ||J+||^2 at the chain's present pose, which must be a solution. */
  #inverseTrace(): number {
    if (this.#six?.take()) return this.#six.inverseTrace()
    this.#layAtSolution()
    this.#squareUp(0)
    factor(this.#square, this.#m)
    return inverseTrace(this.#square, this.#m, this.#right)
  }

  #layAtSolution(): void {
    // With all freedoms held the blade is where the target was, which nobody has kept.
    if (this.#six !== null) this.#pointAt(this.chain.blade)
    this.#layRows()
  }

  /** Fills the error, metres scaled; returns its square. */
  #lookAt(target: Float64Array): number {
    const blade = this.chain.blade
    const error = this.#error
    const w = this.#rotation
    const directions = this.#directions
    const inverse = 1 / this.chain.scale
    let worst = 0
    let worstTurn = 0
    let square = 0
    let row = 0
    const positions = this.#positions
    for (let k = 0; k < positions.length; k++) {
      const i = positions[k]!
      const d = target[9 + i]! - blade[9 + i]!
      worst = Math.max(worst, Math.abs(d))
      const e = d * inverse
      error[row++] = e
      square += e * e
    }
    if (this.#turns.length > 0) rotationBetween(blade, target, w)
    for (let k = 0; k < this.#turns.length; k += 3) {
      const e = directions[k]! * w[0]! + directions[k + 1]! * w[1]! + directions[k + 2]! * w[2]!
      worstTurn = Math.max(worstTurn, Math.abs(e))
      error[row++] = e
      square += e * e
    }
    this.residual = Math.max(worst, worstTurn)
    this.residualUnit = worstTurn > worst ? 'rad' : 'm'
    return square
  }

  /** The rotation rows' directions in the craft frame. */
  #pointAt(target: Float64Array): void {
    const turns = this.#turns
    for (let k = 0; k < turns.length; k += 3) {
      for (let i = 0; i < 3; i++) {
        this.#directions[k + i] =
          target[3 * i]! * turns[k]! + target[3 * i + 1]! * turns[k + 1]! + target[3 * i + 2]! * turns[k + 2]!
      }
    }
  }

  /** The Jacobian of the error's rows at the chain's present pose, metres scaled. */
  #layRows(): void {
    const n = this.chain.n
    const jacobian = this.#jacobian
    const rows = this.#rows
    const directions = this.#directions
    const inverse = 1 / this.chain.scale
    this.chain.jacobian(jacobian)
    let row = 0
    const positions = this.#positions
    for (let k = 0; k < positions.length; k++) {
      const from = positions[k]! * n
      for (let i = 0; i < n; i++) rows[row + i] = jacobian[from + i]! * inverse
      row += n
    }
    const w0 = this.#rotation[0]!
    const w1 = this.#rotation[1]!
    const w2 = this.#rotation[2]!
    const angle2 = w0 * w0 + w1 * w1 + w2 * w2
    // The log map's derivative: d log = -(I + [w]/2 + c [w]^2) omega; it matters when a free turn leaves w large.
    const c = angle2 < 1e-4 ? 1 / 12 + angle2 / 720 : leftover(Math.sqrt(angle2))
    for (let k = 0; k < this.#turns.length; k += 3) {
      const d0 = directions[k]!
      const d1 = directions[k + 1]!
      const d2 = directions[k + 2]!
      const x0 = w1 * d2 - w2 * d1
      const x1 = w2 * d0 - w0 * d2
      const x2 = w0 * d1 - w1 * d0
      const a0 = d0 - x0 / 2 + c * (w1 * x2 - w2 * x1)
      const a1 = d1 - x1 / 2 + c * (w2 * x0 - w0 * x2)
      const a2 = d2 - x2 / 2 + c * (w0 * x1 - w1 * x0)
      for (let i = 0; i < n; i++) {
        rows[row + i] = a0 * jacobian[3 * n + i]! + a1 * jacobian[4 * n + i]! + a2 * jacobian[5 * n + i]!
      }
      row += n
    }
  }

  /** J J^T + mu I, lower triangle. */
  #squareUp(mu: number): void {
    const n = this.chain.n
    const m = this.#m
    const rows = this.#rows
    const square = this.#square
    for (let i = 0; i < m; i++) {
      const a = i * n
      for (let j = 0; j <= i; j++) {
        const b = j * n
        let sum = i === j ? mu : 0
        for (let k = 0; k < n; k++) sum += rows[a + k]! * rows[b + k]!
        square[i * m + j] = sum
      }
    }
  }

  /** The joint step, from the factored square. */
  #steer(q: Float64Array, pull: number): void {
    const n = this.chain.n
    const m = this.#m
    const rows = this.#rows
    const right = this.#right
    const step = this.#step
    for (let i = 0; i < n; i++) step[i] = pull * (this.#middle[i]! - q[i]!)
    for (let i = 0; i < m; i++) {
      let e = this.#error[i]!
      if (pull > 0) for (let k = 0; k < n; k++) e -= rows[i * n + k]! * step[k]!
      right[i] = e
    }
    solve(this.#square, m, right)
    for (let i = 0; i < n; i++) {
      let sum = step[i]!
      for (let j = 0; j < m; j++) sum += rows[j * n + i]! * right[j]!
      step[i] = sum
    }
  }

  #inRange(q: Float64Array): boolean {
    this.margin = Number.POSITIVE_INFINITY
    for (let i = 0; i < this.chain.n; i++) {
      const { lower, upper } = this.#limits[i]!
      const margin = Math.min(q[i]! - lower, upper - q[i]!)
      if (margin < this.margin) {
        this.margin = margin
        this.joint = i
      }
    }
    return this.margin >= 0
  }
}

/**
 * Share of the way to the middle of the ranges that a spare joint is asked to go in step `count`. All of it settles fastest on a
 * fine path; from far away that can swing to and fro, so it grows gentler, and at last only the pose matters.
 */
function pull(count: number): number {
  if (count < 25) return 1
  return count < 80 ? 0.4 : 0
}

/** 1/t^2 - cot(t/2) / (2 t), the last coefficient of the log map's derivative, away from zero. */
function leftover(t: number): number {
  return 1 / (t * t) - 1 / (2 * t * Math.tan(t / 2))
}
