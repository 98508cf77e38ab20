/** Bodies moved to other frames, and fixed to each other. Whether one could exist at all: files/body.ts. */
import type { Body, Vector3 } from '../files/rig.js'

export type { Body, Train } from '../files/rig.js'

/** A new body: one that is given in frame b, as frame a has it. @param pose T_a_b */
export function placed({ mass, centre, inertia }: Body, pose: Float64Array): Body {
  const [r00, r01, r02, r10, r11, r12, r20, r21, r22, x, y, z] = pose as unknown as number[]
  const rows = [
    [r00!, r01!, r02!],
    [r10!, r11!, r12!],
    [r20!, r21!, r22!],
  ] as const
  const dot = (a: Vector3, b: Vector3): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
  const [xx, yy, zz, xy, xz, yz] = inertia
  const turned = rows.map((r): Vector3 => [dot([xx, xy, xz], r), dot([xy, yy, yz], r), dot([xz, yz, zz], r)])
  const entry = (i: number, j: number): number => dot(rows[i]!, turned[j]!)
  return {
    mass,
    centre: [x! + dot(rows[0], centre), y! + dot(rows[1], centre), z! + dot(rows[2], centre)],
    inertia: [entry(0, 0), entry(1, 1), entry(2, 2), entry(0, 1), entry(0, 2), entry(1, 2)],
  }
}

/** A new body: two of the same frame, fixed to each other. */
export function joined(a: Body, b: Body): Body {
  const mass = a.mass + b.mass
  const centre = [0, 1, 2].map((i) => (a.mass * a.centre[i]! + b.mass * b.centre[i]!) / mass)
  const moved = [a, b].map((body) => {
    const [x, y, z] = body.centre.map((c, i) => c - centre[i]!) as unknown as Vector3
    // Steiner's theorem.
    const apart = [y * y + z * z, x * x + z * z, x * x + y * y, -x * y, -x * z, -y * z]
    return body.inertia.map((own, i) => own + body.mass * apart[i]!)
  })
  const inertia = moved[0]!.map((x, i) => x + moved[1]![i]!)
  return { mass, centre: centre as unknown as Vector3, inertia: inertia as unknown as Body['inertia'] }
}
