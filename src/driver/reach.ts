/** What a rig's arms can do, worked out without running anything: reach over the whole stroke. */
import { DrystrokeError } from '../errors.js'
import type { Arm, Rig } from '../files/rig.js'
import type { BladePath, StrokePlace } from '../motion/blade.js'
import type { InverseKinematics } from '../motion/ik.js'
import { POSE } from '../motion/pose.js'
import { PARK_PHASE } from '../motion/stroke.js'
import { Continuity } from './continuity.js'
import { jointsOf, kinematicsOf, PARKED, parkPosture } from './posture.js'
import { strokesOf } from './strokes.js'
import { jumps, notClosed, reasonOf } from './unreachable.js'

/** Phase steps of one stroke. */
const STEPS = 720
/** Every so many of them the way to the park place is tried as well. */
const LIFT_EVERY = 24
/** Steps of lifting and of carrying. */
const LIFT_STEPS = 30
/** rad: so near to its park pose an arm must be again when its blade is. */
const CLOSED = 1e-4
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

/**
 * Walks each arm once around its stroke ahead, once astern, and from points all along it to the park place. The joints must
 * follow without a jump, and come back to where they were parked.
 */
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
  const survey = new Survey(rig, arm, path, ik, park)
  survey.start(PARKED, park)
  for (let i = 1; i <= STEPS; i++) {
    const phase = (PARK_PHASE + i / STEPS) % 1
    survey.visit({ ...PARKED, phase }, 'ahead')
    if (i % LIFT_EVERY === 0) surveyParking(survey)
  }
  survey.close('ahead')
  survey.start(PARKED, park)
  for (let i = 1; i <= STEPS; i++)
    survey.visit({ ...PARKED, phase: (PARK_PHASE + 1 - i / STEPS) % 1 }, 'astern')
  survey.close('astern')
  return survey.report()
}

/** From where the survey stands to the park place, and back to where it stood. */
function surveyParking(survey: Survey): void {
  const { place } = survey
  const q = survey.q.slice()
  for (let i = 1; i <= LIFT_STEPS; i++) survey.visit({ ...place, lift: i / LIFT_STEPS }, 'parking')
  for (let i = 1; i <= LIFT_STEPS; i++) survey.visit({ ...place, lift: 1, carry: i / LIFT_STEPS }, 'parking')
  survey.close('parking')
  survey.start(place, q)
}

class Survey {
  readonly #failures: ReachFailure[] = []
  readonly #target = new Float64Array(POSE)
  #margin: ReachReport['margin'] = null
  #singularity: ReachReport['singularity'] = null
  readonly #joints
  readonly #least: number

  /** Where the walk stands. */
  place: StrokePlace = PARKED
  /** rad, the joints there */
  readonly q: Float64Array
  readonly #before: Float64Array
  readonly #continuity: Continuity
  /** Was no pose found where the walk stands? */
  #gap = false

  constructor(
    rig: Rig,
    private readonly arm: Arm,
    private readonly path: BladePath,
    private readonly ik: InverseKinematics,
    private readonly park: Float64Array,
  ) {
    this.#joints = jointsOf(rig, arm)
    this.#least = rig.driver.singularity
    this.#continuity = new Continuity(rig, arm, path, ik)
    this.q = park.slice()
    this.#before = park.slice()
  }

  /** Begins a walk. @param q rad, joint positions that hold the blade at `place` */
  start(place: StrokePlace, q: Float64Array): void {
    this.place = place
    this.q.set(q)
    this.#gap = false
  }

  /** Goes on to a place near by; where no pose is found the joints stay. */
  visit(place: StrokePlace, motion: ReachFailure['motion']): void {
    const { ik, q } = this
    const before = this.#before
    before.set(q)
    this.path.pose(place, this.#target)
    const outcome = ik.solve(this.#target, q)
    const { phase } = place
    const from = this.place
    this.place = place
    if (outcome !== 'no-solution') {
      if (this.#margin === null || ik.margin < this.#margin.value) {
        this.#margin = { joint: this.#joints[ik.joint]!.name, value: ik.margin, phase }
      }
      if (this.#singularity === null || ik.singularity < this.#singularity.value) {
        this.#singularity = { value: ik.singularity, phase, least: this.#least }
      }
    }
    const gap = this.#gap
    this.#gap = outcome === 'no-solution'
    if (this.#gap) q.set(before)
    if (outcome !== 'solved' || ik.singularity < this.#least) {
      this.#fail(phase, motion, reasonOf(this.#joints, outcome, ik, this.#least))
      return
    }
    // Beyond a gap there is no neighbour to compare with.
    const jump = gap ? null : this.#continuity.jump(from, place, before, q)
    if (jump) this.#fail(phase, motion, jumps(jump))
  }

  /** Ends a walk at the park place. */
  close(motion: ReachFailure['motion']): void {
    if (this.#failures.length > 0) return
    const joint = this.q.findIndex((x, i) => Math.abs(x - this.park[i]!) > CLOSED)
    if (joint < 0) return
    const off = Math.abs(this.q[joint]! - this.park[joint]!)
    this.#fail(PARK_PHASE, motion, notClosed(this.#joints[joint]!, off))
  }

  #fail(phase: number, motion: ReachFailure['motion'], reason: string): void {
    if (this.#failures.length < MOST_FAILURES) this.#failures.push({ phase, motion, reason })
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
