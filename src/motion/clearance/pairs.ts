/**
 * Which bodies are looked at together, in groups: an arm and another arm, an arm and a volume, an arm and itself. Left out
 * by themselves are
 *
 * - parts of one arm that are nearer than the warning in every pose: those that meet in a joint, and those with so little
 *   between them that they cannot be farther. What keeps them apart is the limits of the joints in between;
 * - what cannot move and what cannot move;
 * - the pairs that the rig names.
 */
import type { ArmCapsules } from './arm-capsules.js'
import type { Bodies, ThickRig } from './bodies.js'

export interface Group {
  readonly arm: number
  /** The name of an arm or volume, or `itself`. */
  readonly to: string
  /** The other arm, or null. */
  readonly otherArm: number | null
}

export interface Pair {
  /** Bodies: the first is a capsule of the group's arm. */
  readonly a: number
  readonly b: number
  readonly group: number
}

/** m: less is nothing */
const NOTHING = 1e-9

/** Of each arm with itself, with the arms after it, and with every volume; a group without pairs is none. @param bodies those of the rig */
export function pairsOf(rig: ThickRig, bodies: Bodies): { groups: Group[]; pairs: Pair[] } {
  const { names, things } = bodies
  const { leftOut, keepOut, warn } = rig.clearance
  const armOf = (body: number): ArmCapsules | undefined => bodies.arms[things[body]!]
  const moves = names.map((_, body) => {
    const arm = armOf(body)
    if (arm === undefined) return false
    const { n } = arm.chain
    const at = (body - bodies.first[things[body]!]!) * n
    return arm.reach.subarray(at, at + n).some((reach) => reach > NOTHING)
  })
  /** Bodies of each thing. */
  const of: number[][] = Array.from({ length: rig.arms.length + keepOut.length }, () => [])
  things.forEach((thing, body) => {
    of[thing]!.push(body)
  })
  const groups: Group[] = []
  const pairs: Pair[] = []
  rig.arms.forEach((arm, i) => {
    const between = lengthsBetween(rig, i, bodies.arms[i]!.shaftLength)
    const always = (a: number, b: number): boolean =>
      between(a - bodies.first[i]!, b - bodies.first[i]!) <= bodies.radii[a]! + bodies.radii[b]! + warn
    for (let thing = i; thing < rig.arms.length + keepOut.length; thing++) {
      const other = rig.arms[thing]
      const to = thing === i ? 'itself' : (other ?? keepOut[thing - rig.arms.length]!).name
      const group = groups.length
      const mine = pairs.length
      for (const a of of[i]!) {
        for (const b of of[thing]!) {
          if (thing === i && (b <= a || always(a, b))) continue
          if (!moves[a] && !moves[b]) continue
          if (!leftOut.some((pair) => isOf(pair, names[a]!, names[b]!))) pairs.push({ a, b, group })
        }
      }
      if (pairs.length > mine)
        groups.push({ arm: arm.index, to, otherArm: thing > i && other ? thing : null })
    }
  })
  return { groups, pairs }
}

function isOf([x, y]: readonly [string, string], first: string, second: string): boolean {
  return (x === first && y === second) || (x === second && y === first)
}

/** m, along the links from one capsule of an arm to a later one: their lines are never farther from each other. @param shaft m */
function lengthsBetween({ arms, joints }: ThickRig, arm: number, shaft: number) {
  const mine = arms[arm]!.joints
  const n = mine.length
  // From each joint to the one before it, then from the blade's inboard end to the last joint.
  const lengths = [...mine.map((j) => Math.hypot(...joints[j]!.origin.at)), shaft]
  return (a: number, b: number): number => {
    // Capsules: base, n links, shaft, blade. Points: n joints, the blade's inboard end.
    const blade = n + 2
    if (a >= blade) return 0
    const far = Math.min(a, a > n ? n : n - 1)
    const near = b >= blade ? n : Math.min(b - 1, n - 1)
    return lengths.slice(far + 1, near + 1).reduce((sum, length) => sum + length, 0)
  }
}
