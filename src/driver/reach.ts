/** What a rig's arms can do, worked out without running anything: reach over the whole stroke. */
import { DrystrokeError } from '../errors.js'
import type { Arm, Rig } from '../files/rig.js'
import type { BladePath, StrokePlace } from '../motion/blade.js'
import type { IkOutcome, InverseKinematics } from '../motion/ik.js'
import { POSE } from '../motion/pose.js'
import { PARK_PHASE } from '../motion/stroke.js'
import { Continuity } from './continuity.js'
import { backAgain, jointsOf, kinematicsOf, PARKED, parkPosture } from './posture.js'
import { strokesOf } from './strokes.js'
import { jumps, notClosed, reasonOf } from './unreachable.js'

/** Phase steps of one stroke. */
const STEPS = 720
/** Every so many of them the way to the park place is tried as well. */
const LIFT_EVERY = 24
/** Steps of lifting and of carrying: about as fine as those of the stroke, else each is looked into for a jump. */
const LIFT_STEPS = 60
/** Ranges told of an arm that fails in many ways. */
const MOST_FAILURES = 8

const MOTIONS = ['ahead', 'astern', 'parking'] as const

/** What a walk meets all along a range of phases. */
export interface ReachFailure {
  /** Where the range begins, and where it ends, going ahead: the same when it is one place. */
  readonly phase: number
  readonly to: number
  readonly motion: (typeof MOTIONS)[number]
  /** As it was where it was worst. */
  readonly reason: string
}

type FailedRange = { -readonly [K in keyof ReachFailure]: ReachFailure[K] } & { kind: string; size: number }

export interface JointMargin {
  readonly joint: string
  /** rad left, negative outside */
  readonly value: number
  readonly phase: number
}

export interface ReachReport {
  readonly arm: string
  readonly reachable: boolean
  /** The joint that comes nearest to an end of its range: rad left, and where; null when nothing was reached. */
  readonly margin: JointMargin | null
  /** The least singularity measure, where, and the least one that the rig allows. */
  readonly singularity: { readonly value: number; readonly phase: number; readonly least: number } | null
  /** The least singular value of the same Jacobian, its share of the greatest there (reciprocal condition number), and where. */
  readonly smallest: { readonly value: number; readonly share: number; readonly phase: number } | null
  /** Of every joint: how near it comes to an end of its range, rad, and where. */
  readonly margins: readonly JointMargin[]
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
    const failure: ReachFailure = {
      phase: PARK_PHASE,
      to: PARK_PHASE,
      motion: 'parking',
      reason: error.message,
    }
    const unknown = { margin: null, singularity: null, smallest: null, margins: [] }
    return { arm: arm.name, reachable: false, ...unknown, failures: [failure] }
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
  readonly #failures: FailedRange[] = []
  readonly #target = new Float64Array(POSE)
  #margin: ReachReport['margin'] = null
  #singularity: ReachReport['singularity'] = null
  #smallest: ReachReport['smallest'] = null
  /** By joint of the arm. */
  readonly #margins: (JointMargin | null)[]
  readonly #singular: Float64Array
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
    this.#margins = this.#joints.map(() => null)
    this.#singular = new Float64Array(ik.held)
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
      this.#measure(phase)
    }
    const gap = this.#gap
    this.#gap = outcome === 'no-solution'
    if (this.#gap) q.set(before)
    if (outcome !== 'solved' || ik.singularity < this.#least) {
      const [kind, size] = failureOf(outcome, ik)
      this.#fail(phase, motion, kind, size, reasonOf(this.#joints, outcome, ik, this.#least))
      return
    }
    // Beyond a gap there is no neighbour to compare with.
    const jump = gap ? null : this.#continuity.jump(from, place, before, q)
    if (jump) this.#fail(phase, motion, `jump ${jump.joint.name}`, jump.size, jumps(jump))
  }

  /** What is told of each joint, and of the Jacobian, at the pose found. */
  #measure(phase: number): void {
    this.#joints.forEach(({ name, limits }, i) => {
      const value = Math.min(this.q[i]! - limits.lower, limits.upper - this.q[i]!)
      const least = this.#margins[i]
      if (!least || value < least.value) this.#margins[i] = { joint: name, value, phase }
    })
    // The measure is never above the least singular value: what is above the least of all so far need not be worked out.
    if (this.#smallest !== null && this.ik.singularity >= this.#smallest.value) return
    this.ik.singularValues(this.#singular)
    const value = this.#singular.at(-1)!
    if (this.#smallest === null || value < this.#smallest.value)
      this.#smallest = { value, share: value / this.#singular[0]!, phase }
  }

  /** Ends a walk at the park place. */
  close(motion: ReachFailure['motion']): void {
    if (this.#failures.length > 0) return
    const joint = backAgain(this.q, this.park)
    if (joint < 0) return
    const off = Math.abs(this.q[joint]! - this.park[joint]!)
    this.#fail(PARK_PHASE, motion, 'not closed', off, notClosed(this.#joints[joint]!, off))
  }

  /** @param kind what is the same all along a range; @param size the greater the worse */
  #fail(phase: number, motion: ReachFailure['motion'], kind: string, size: number, reason: string): void {
    const step = (motion === 'parking' ? LIFT_EVERY : 1) / STEPS + 1e-9
    // The phase goes round, and a walk astern goes back.
    const near = (other: number): boolean => Math.abs(phase - other - Math.round(phase - other)) <= step
    const range = this.#failures.find(
      (f) => f.motion === motion && f.kind === kind && (near(f.to) || near(f.phase)),
    )
    if (!range) {
      this.#failures.push({ phase, to: phase, motion, kind, size, reason })
      return
    }
    if (motion === 'astern') range.phase = phase
    else range.to = phase
    if (size > range.size) Object.assign(range, { size, reason })
  }

  report(): ReachReport {
    return {
      arm: this.arm.name,
      reachable: this.#failures.length === 0,
      margin: this.#margin,
      singularity: this.#singularity,
      smallest: this.#smallest,
      margins: this.#margins.filter((margin) => margin !== null),
      // The stroke itself first: the way to the park place fails wherever the stroke does.
      failures: MOTIONS.flatMap((motion) => this.#failures.filter((f) => f.motion === motion))
        .slice(0, MOST_FAILURES)
        .map(({ kind: _, size: __, ...failure }) => failure),
    }
  }
}

/** What sort of failure an outcome is, and how bad. */
function failureOf(outcome: IkOutcome, ik: InverseKinematics): readonly [kind: string, size: number] {
  if (outcome === 'no-solution') return ['short', ik.residual]
  if (outcome === 'limit') return [`limit ${ik.joint}`, -ik.margin]
  return ['singular', -ik.singularity]
}

/** `phase 0.829 to 0.842` */
export function phasesOf({ phase, to }: Pick<ReachFailure, 'phase' | 'to'>): string {
  const [first, last] = [phase.toFixed(3), to.toFixed(3)]
  return first === last ? `phase ${first}` : `phase ${first} to ${last}`
}
