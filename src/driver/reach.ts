/** What a rig's arms can do, worked out without running anything: reach over the whole stroke. */
import { DrystrokeError } from '../errors.js'
import type { Arm, Rig } from '../files/rig.js'
import type { BladePath, StrokePlace } from '../motion/blade.js'
import type { InverseKinematics } from '../motion/ik.js'
import { POSE } from '../motion/pose.js'
import { PARK_PHASE } from '../motion/stroke.js'
import { jointsOf, kinematicsOf, PARKED, parkPosture } from './posture.js'
import { strokesOf } from './strokes.js'
import { reasonOf } from './unreachable.js'

/** Phase steps of one stroke. */
const STEPS = 720
/** Every so many of them the way to the park place is tried as well. */
const LIFT_EVERY = 24
/** Steps of lifting and of carrying. */
const LIFT_STEPS = 30
/** An arm that fails everywhere needs no more than this many lines. */
const MOST_FAILURES = 8

interface ReachFailure {
  readonly phase: number
  readonly motion: 'ahead' | 'astern' | 'parking'
  readonly reason: string
}

export interface ReachReport {
  readonly arm: string
  readonly reachable: boolean
  /** The joint that comes nearest to an end of its range: rad left, and where; null when nothing was reached. */
  readonly margin: { readonly joint: string; readonly value: number; readonly phase: number } | null
  /** The least singularity measure, where, and the least one that the rig allows. */
  readonly singularity: { readonly value: number; readonly phase: number; readonly least: number } | null
  /** The first few. */
  readonly failures: readonly ReachFailure[]
}

/** Walks each arm once around its stroke ahead, once astern, and from points all along it to the park place. */
export function checkReach(rig: Rig): ReachReport[] {
  const { paths } = strokesOf(rig)
  return rig.arms.map((arm, i) => checkArm(rig, arm, paths[i]!))
}

function checkArm(rig: Rig, arm: Arm, path: BladePath): ReachReport {
  const ik = kinematicsOf(rig, arm)
  let park: Float64Array
  try {
    park = parkPosture(rig, arm, path, ik)
  } catch (error) {
    if (!(error instanceof DrystrokeError) || error.code !== 'unreachable') throw error
    const failure: ReachFailure = { phase: PARK_PHASE, motion: 'parking', reason: error.message }
    return { arm: arm.name, reachable: false, margin: null, singularity: null, failures: [failure] }
  }
  const survey = new Survey(rig, arm, path, ik)
  const q = park.slice()
  for (let i = 1; i <= STEPS; i++) {
    const phase = (PARK_PHASE + i / STEPS) % 1
    survey.visit({ ...PARKED, phase }, 'ahead', q)
    if (i % LIFT_EVERY === 0) surveyParking(survey, phase, q.slice())
  }
  q.set(park)
  for (let i = 1; i <= STEPS; i++)
    survey.visit({ ...PARKED, phase: (PARK_PHASE + 1 - i / STEPS) % 1 }, 'astern', q)
  return survey.report()
}

function surveyParking(survey: Survey, phase: number, q: Float64Array): void {
  for (let i = 1; i <= LIFT_STEPS; i++)
    survey.visit({ phase, reach: 1, lift: i / LIFT_STEPS, carry: 0 }, 'parking', q)
  for (let i = 1; i <= LIFT_STEPS; i++)
    survey.visit({ phase, reach: 1, lift: 1, carry: i / LIFT_STEPS }, 'parking', q)
}

class Survey {
  readonly #failures: ReachFailure[] = []
  readonly #target = new Float64Array(POSE)
  #margin: ReachReport['margin'] = null
  #singularity: ReachReport['singularity'] = null
  readonly #joints
  readonly #least: number

  constructor(
    rig: Rig,
    private readonly arm: Arm,
    private readonly path: BladePath,
    private readonly ik: InverseKinematics,
  ) {
    this.#joints = jointsOf(rig, arm)
    this.#least = rig.driver.singularity
  }

  /** @param q rad; in: a pose near by, out: the pose found, unchanged when none was */
  visit(place: StrokePlace, motion: ReachFailure['motion'], q: Float64Array): void {
    const { ik } = this
    const before = q.slice()
    this.path.pose(place, this.#target)
    const outcome = ik.solve(this.#target, q)
    const { phase } = place
    if (outcome !== 'no-solution') {
      if (this.#margin === null || ik.margin < this.#margin.value) {
        this.#margin = { joint: this.#joints[ik.joint]!.name, value: ik.margin, phase }
      }
      if (this.#singularity === null || ik.singularity < this.#singularity.value) {
        this.#singularity = { value: ik.singularity, phase, least: this.#least }
      }
    }
    if (outcome === 'solved' && ik.singularity >= this.#least) return
    if (outcome === 'no-solution') q.set(before)
    if (this.#failures.length < MOST_FAILURES) {
      this.#failures.push({ phase, motion, reason: reasonOf(this.#joints, outcome, ik, this.#least) })
    }
  }

  report(): ReachReport {
    return {
      arm: this.arm.name,
      reachable: this.#failures.length === 0,
      margin: this.#margin,
      singularity: this.#singularity,
      failures: this.#failures,
    }
  }
}
