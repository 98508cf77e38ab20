/**
 * Closest distances of two segments, and of a segment and a box, against two methods that share nothing with ours:
 *
 * - bounded linear least squares: the least |A x - b| with each unknown between two bounds, by the active-set method BVLS
 *   (C. Lawson and R. Hanson, "Solving Least Squares Problems", 1974; P. Stark and R. Parker, 1995), as Debian's python3-scipy has
 *   it. The unknowns are the shares of the segments, or the share of the segment and the three coordinates in the box;
 * - sampling with Debian's python3-numpy: no sample is nearer than the minimum, and the nearest is farther by no more than the
 *   way to the sample next to the closest points, half a step on each of the two.
 *
 * 10,000 seeded pairs of each kind; one in three is of a kind that formulas like to fail at.
 */
import { spawnSync } from 'node:child_process'
import { beforeAll, describe, expect, test } from 'vitest'
import { BOX, betweenSegmentAndBox } from '../../src/motion/clearance/box.js'
import { betweenSegments, CLOSEST } from '../../src/motion/clearance/segments.js'
import { poseOf } from '../../src/motion/pose.js'
import { randomStream } from '../../src/random.js'
import { needs } from '../setup/needs.js'

const PAIRS = 10_000
/** Samples of each segment, and of the segment beside a box, less one. */
const STEPS = 64
const LONG_STEPS = 2000

const PYTHON = `
import json, sys
import numpy as np
from scipy.optimize import lsq_linear
job = json.load(sys.stdin)
def bvls(A, b, low, high):
    r = lsq_linear(A, b, (low, high), method='bvls', tol=1e-15, max_iter=200)
    return float(np.linalg.norm(A @ r.x - b))
def segments(pairs, steps):
    p = np.array(pairs)
    a, u, b, v = p[:, 0:3], p[:, 3:6] - p[:, 0:3], p[:, 6:9], p[:, 9:12] - p[:, 6:9]
    solved = [bvls(np.stack([u[i], -v[i]], 1), b[i] - a[i], [0, 0], [1, 1]) for i in range(len(p))]
    s = np.linspace(0, 1, steps + 1)
    sampled = []
    for i in range(len(p)):
        x = a[i] + s[:, None] * u[i]
        y = b[i] + s[:, None] * v[i]
        sampled.append(float(np.sqrt(((x[:, None] - y[None]) ** 2).sum(2).min())))
    return solved, sampled
def boxes(pairs, steps):
    p = np.array(pairs)
    a, u = p[:, 0:3], p[:, 3:6] - p[:, 0:3]
    R, c, h = p[:, 6:15].reshape(-1, 3, 3), p[:, 15:18], p[:, 18:21]
    solved = [bvls(np.concatenate([u[i][:, None], -R[i]], 1), c[i] - a[i],
                   np.concatenate([[0], -h[i]]), np.concatenate([[1], h[i]])) for i in range(len(p))]
    s = np.linspace(0, 1, steps + 1)
    sampled = []
    for i in range(len(p)):
        x = (a[i] + s[:, None] * u[i] - c[i]) @ R[i]
        sampled.append(float(np.sqrt((np.maximum(np.abs(x) - h[i], 0) ** 2).sum(1).min())))
    return solved, sampled
json.dump({'segments': segments(job['segments'], job['steps']), 'boxes': boxes(job['boxes'], job['longSteps'])}, sys.stdout)
`

const random = randomStream(23, 'closest points')
const within = (size: number): number => size * (2 * random.uniform() - 1)
const point = (size: number): number[] => [within(size), within(size), within(size)]
const plus = (a: number[], b: number[], times = 1): number[] => a.map((x, k) => x + times * b[k]!)

/** Two segments: any; parallel, nearly so, on one line, without length, crossing. */
function twoSegments(i: number): number[] {
  const a = point(1)
  const u = point(1)
  const b = plus(a, point(1))
  switch (i % 18) {
    case 0: // parallel
      return [...a, ...plus(a, u), ...b, ...plus(b, u, within(2))]
    case 1: // nearly parallel
      return [...a, ...plus(a, u), ...b, ...plus(plus(b, u), point(10 ** (-4 - 8 * random.uniform())))]
    case 2: // on one line
      return [...a, ...plus(a, u), ...plus(a, u, within(2)), ...plus(a, u, within(2))]
    case 3: // a point and a segment
      return [...a, ...a, ...b, ...plus(b, u)]
    case 4: // two points
      return [...a, ...a, ...b, ...b]
    case 5: {
      // crossing
      const v = point(1)
      const at = plus(a, u, random.uniform())
      const back = random.uniform()
      return [...a, ...plus(a, u), ...plus(at, v, -back), ...plus(at, v, 1 - back)]
    }
    default:
      return [...a, ...plus(a, u), ...b, ...plus(b, point(1))]
  }
}

/** A segment and a box: any; along an edge, square to a face, within, without length, through; thin boxes. */
function segmentAndBox(i: number): { segment: number[]; box: Float64Array } {
  const half = [0, 0, 0].map(() => (i % 5 === 0 ? 1e-3 : 0.05) + 0.6 * random.uniform())
  const pose = poseOf({ at: point(1) as never, turn: point(3) as never })
  const box = Float64Array.of(...pose, ...half)
  const world = (p: number[]): number[] =>
    [0, 1, 2].map((k) => pose[9 + k]! + p.reduce((sum, x, c) => sum + pose[3 * k + c]! * x, 0))
  const inBox = (): number[] => half.map((h) => within(h))
  const a = point(1.5)
  const axis = [0, 0, 0].map((_, k) => (k === i % 3 ? within(2) : 0))
  const made = (from: number[], to: number[]) => ({ segment: [...world(from), ...world(to)], box })
  switch (i % 18) {
    case 0:
      return made(a, plus(a, axis))
    case 1: // along a face, on it
      return made(
        a.map((x, k) => (k === i % 3 ? half[k]! : x)),
        point(1.5).map((x, k) => (k === i % 3 ? half[k]! : x)),
      )
    case 2:
      return made(inBox(), inBox())
    case 3:
      return made(a, a)
    case 4: {
      const at = inBox()
      const v = point(2)
      return made(plus(at, v, -1), plus(at, v))
    }
    default:
      return made(a, point(1.5))
  }
}

const segments = Array.from({ length: PAIRS }, (_, i) => twoSegments(i))
const boxes = Array.from({ length: PAIRS }, (_, i) => segmentAndBox(i))
const length = (s: number[], at: number): number =>
  Math.hypot(s[at + 3]! - s[at]!, s[at + 4]! - s[at + 1]!, s[at + 5]! - s[at + 2]!)
const apart = (out: Float64Array): number =>
  Math.hypot(out[1]! - out[4]!, out[2]! - out[5]!, out[3]! - out[6]!)

describe.skipIf(!needs('python3-numpy', 'python3-scipy'))('closest points', () => {
  let theirs: Record<'segments' | 'boxes', [solved: number[], sampled: number[]]>
  const out = new Float64Array(CLOSEST)

  beforeAll(() => {
    const job = {
      segments,
      boxes: boxes.map(({ segment, box }) => [...segment, ...box]),
      steps: STEPS,
      longSteps: LONG_STEPS,
    }
    const run = spawnSync('/usr/bin/python3', ['-c', PYTHON], {
      input: JSON.stringify(job),
      encoding: 'utf8',
      maxBuffer: 1e8,
    })
    if (run.status !== 0) throw new Error(run.stderr)
    theirs = JSON.parse(run.stdout)
  }, 300_000)

  test(`of ${PAIRS} pairs of segments: bounded least squares agree to 1e-9 m, samples to their spacing`, () => {
    const [solved, sampled] = theirs.segments
    expect(solved).toHaveLength(PAIRS)
    segments.forEach((pair, i) => {
      const a = Float64Array.from(pair)
      betweenSegments(a, 0, a, 6, out)
      const distance = out[0]!
      expect(Math.abs(distance - solved[i]!), `pair ${i}`).toBeLessThan(1e-9)
      const spacing = (length(pair, 0) + length(pair, 6)) / (2 * STEPS)
      expect(sampled[i]! - distance, `pair ${i}`).toBeGreaterThan(-1e-12)
      expect(sampled[i]! - distance, `pair ${i}`).toBeLessThan(spacing + 1e-12)
      // The points are where the distance is, and on the segments.
      expect(Math.abs(apart(out) - distance)).toBeLessThan(1e-12)
      for (const at of [0, 6]) {
        const [x, y, z] = out.subarray(at === 0 ? 1 : 4, at === 0 ? 4 : 7)
        const ends = length([...pair.slice(at, at + 3), x!, y!, z!], 0)
        const rest = length([x!, y!, z!, ...pair.slice(at + 3, at + 6)], 0)
        expect(ends + rest - length(pair, at)).toBeLessThan(1e-12)
      }
    })
  })

  test(`of ${PAIRS} pairs of a segment and a box: the same`, () => {
    const [solved, sampled] = theirs.boxes
    expect(solved).toHaveLength(PAIRS)
    boxes.forEach(({ segment, box }, i) => {
      const a = Float64Array.from(segment)
      expect(box).toHaveLength(BOX)
      betweenSegmentAndBox(a, 0, box, 0, out)
      const distance = out[0]!
      expect(Math.abs(distance - solved[i]!), `pair ${i}`).toBeLessThan(1e-9)
      expect(sampled[i]! - distance, `pair ${i}`).toBeGreaterThan(-1e-12)
      expect(sampled[i]! - distance, `pair ${i}`).toBeLessThan(length(segment, 0) / (2 * LONG_STEPS) + 1e-12)
      expect(Math.abs(apart(out) - distance)).toBeLessThan(1e-12)
      for (let k = 0; k < 3; k++) {
        const inside = [0, 1, 2].reduce((sum, c) => sum + box[3 * c + k]! * (out[4 + c]! - box[9 + c]!), 0)
        expect(Math.abs(inside)).toBeLessThan(box[12 + k]! + 1e-12)
      }
    })
    // All kinds were there: apart, and touching.
    expect(solved.filter((d) => d > 1e-6).length).toBeGreaterThan(PAIRS / 2)
    expect(solved.filter((d) => d < 1e-9).length).toBeGreaterThan(PAIRS / 20)
  })
})
