/**
 * Closest points of a segment and a solid box that may lie in any direction, exact; zero where the segment enters the box.
 *
 * In the box's own frame the squared distance of the point at share t of the segment is the sum over the axes of
 * (how far it stands out there)^2: convex in t, with a slope that is continuous, never falls, and is straight between the
 * (at most six) places where the segment passes the plane of a face. The places at which the slope is still negative or
 * already positive close in on the minimum until none is left in between; there the slope is a straight line.
 */

/** Numbers of a box: its pose (motion/pose.ts), its centre at the origin, then half of its length, width and height (m). */
export const BOX = 15

/** The segment's beginning and direction in the frame of the box, m. */
const line = new Float64Array(6)

/**
 * @param a, i segment at a[i] on; @param b, j box at b[j] on
 * @param out distance (m), then x, y, z of the closest point of the segment and of the box (m), as in segments.ts
 */
export function betweenSegmentAndBox(
  a: Float64Array,
  i: number,
  b: Float64Array,
  j: number,
  out: Float64Array,
) {
  for (let k = 0; k < 3; k++) {
    // Columns of the rotation are the axes of the box.
    const x = b[j + k]!
    const y = b[j + 3 + k]!
    const z = b[j + 6 + k]!
    line[k] = x * (a[i]! - b[j + 9]!) + y * (a[i + 1]! - b[j + 10]!) + z * (a[i + 2]! - b[j + 11]!)
    line[3 + k] = x * (a[i + 3]! - a[i]!) + y * (a[i + 4]! - a[i + 1]!) + z * (a[i + 5]! - a[i + 2]!)
  }
  const t = closestShare(b, j + 12)
  let square = 0
  for (let k = 0; k < 3; k++) {
    const at = line[k]! + t * line[3 + k]!
    const half = b[j + 12 + k]!
    const off = standsOut(at, half)
    square += off * off
    line[k] = at - off
  }
  out[0] = Math.sqrt(square)
  for (let k = 0; k < 3; k++) {
    out[1 + k] = a[i + k]! + t * (a[i + 3 + k]! - a[i + k]!)
    const row = j + 3 * k
    out[4 + k] = b[j + 9 + k]! + b[row]! * line[0]! + b[row + 1]! * line[1]! + b[row + 2]! * line[2]!
  }
}

/** Share of `line` at which it is closest to the box with the half sizes at b[h] on. */
function closestShare(b: Float64Array, h: number): number {
  let low = 0
  let lowSlope = slopeAt(0, b, h)
  if (lowSlope >= 0) return 0
  let high = 1
  let highSlope = slopeAt(1, b, h)
  if (highSlope <= 0) return 1
  for (let face = 0; face < 6; face++) {
    const k = face >> 1
    const half = face & 1 ? b[h + k]! : -b[h + k]!
    // Infinite or not a number where the segment lies along the face.
    const t = (half - line[k]!) / line[3 + k]!
    if (!(t > low && t < high)) continue
    const slope = slopeAt(t, b, h)
    if (slope < 0) {
      low = t
      lowSlope = slope
    } else {
      high = t
      highSlope = slope
    }
  }
  return low + ((high - low) * lowSlope) / (lowSlope - highSlope)
}

/** Half the slope of the squared distance. */
function slopeAt(t: number, b: Float64Array, h: number): number {
  return (
    line[3]! * standsOut(line[0]! + t * line[3]!, b[h]!) +
    line[4]! * standsOut(line[1]! + t * line[4]!, b[h + 1]!) +
    line[5]! * standsOut(line[2]! + t * line[5]!, b[h + 2]!)
  )
}

/** How far a coordinate lies beyond the faces at +-half, with its sign; 0 between them. */
function standsOut(x: number, half: number): number {
  return x > half ? x - half : x < -half ? x + half : 0
}
