/**
 * The blade in the water against a second route in numpy, over seeded poses and motions: the wet polygon by clipping the rectangle
 * and the shoelace formula; lift and drag by angle of attack and coefficient (Cl = Al sin 2a, Cd = Ad sin^2 a, check values 6),
 * summed over thousands of places of that polygon.
 */
import { beforeAll, describe, expect, test } from 'vitest'
import { poseOf } from '../../src/motion/pose.js'
import { BladeForce, FLAT_PLATE } from '../../src/motion/water/blade-force.js'
import { randomStream } from '../../src/random.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'

const CASES = 400
const RHO = 998.2
const WATERLINE = 0.3
const SHAPE = { normal: [0, 1, 0], shaft: [0, 0, 1], length: 0.2, width: 0.16 } as const

describe('single rows of check values 6: a flat plate that moves evenly, wholly under water', () => {
  const blade = new BladeForce(SHAPE, FLAT_PLATE, { density: RHO }, WATERLINE)
  const area = 0.2 * 0.16
  const none = new Float64Array(3)
  // Identity: face along y. Angle of attack 90, 0, 45 and 30 deg.
  test.each([
    [90, 0, 2],
    [0, 0, 0],
    [45, 1.3, 1],
    [30, 1.3 * Math.sin(Math.PI / 3), 0.5],
  ])('at %d deg: Cl %d, Cd %d', (degrees, lift, drag) => {
    const [c, s] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)]
    const speed = 1.7
    const wrench = new Float64Array(6)
    const pose = poseOf({ at: [0.4, 1, -0.6], turn: [0, 0, 0] })
    blade.at(pose, Float64Array.of(speed * c, speed * s, 0, 0, 0, 0), none, none, wrench)
    const scale = 0.5 * RHO * area * speed ** 2
    expect(-(wrench[0]! * c + wrench[1]! * s) / scale).toBeCloseTo(drag, 12)
    expect((wrench[0]! * s - wrench[1]! * c) / scale).toBeCloseTo(lift, 12)
    expect(wrench[2]).toBe(0)
    // Even flow: no moment about the middle.
    for (let i = 3; i < 6; i++) expect(Math.abs(wrench[i]!)).toBeLessThan(1e-12)
    expect(blade.wet.area).toBeCloseTo(area, 15)
  })
})

interface Theirs {
  area: number
  centre: number[]
  wrench: number[]
}

const PYTHON = `
import json, sys
import numpy as np
job = json.load(sys.stdin)
L, W, RHO, SURFACE = job['length'], job['width'], job['rho'], -job['waterline']
AL, AD = 1.30, 2.00
M = 60

def clip(corners):
    out = []
    for i, p in enumerate(corners):
        q = corners[(i + 1) % len(corners)]
        hp, hq = p[2] - SURFACE, q[2] - SURFACE
        if hp < 0: out.append(p)
        if (hp < 0) != (hq < 0): out.append(p + (q - p) * (hp / (hp - hq)))
    return out

def forces(points, areas, centre, normal, v, w, craft, current):
    r = points - centre
    u = v + np.cross(w, r)
    u[:, 0] += craft[0] - craft[2] * points[:, 1] - current[0]
    u[:, 1] += craft[1] + craft[2] * points[:, 0] - current[1]
    speed = np.linalg.norm(u, axis=1)
    along = u / speed[:, None]
    sine = along @ normal
    a = np.arcsin(np.abs(sine))
    lift = normal[None, :] - sine[:, None] * along
    size = np.linalg.norm(lift, axis=1)
    lift = -np.sign(sine)[:, None] * lift / np.where(size > 0, size, 1)[:, None]
    q = 0.5 * RHO * speed ** 2 * areas
    f = (q * AL * np.sin(2 * a))[:, None] * lift - (q * AD * np.sin(a) ** 2)[:, None] * along
    return list(f.sum(axis=0)) + list(np.cross(r, f).sum(axis=0))

def case(c):
    R = np.array(c['pose'][:9]).reshape(3, 3)
    p = np.array(c['pose'][9:])
    normal, shaft = R @ np.array([0., 1, 0]), R @ np.array([0., 0, 1])
    across = np.cross(normal, shaft)
    corners = [p + x * shaft * L / 2 + y * across * W / 2 for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    poly = clip(corners)
    if len(poly) < 3: return {'area': 0, 'centre': list(p), 'wrench': [0] * 6}
    s = (np.arange(M) + 0.5) / M
    X, Y = np.meshgrid(s, s)
    X, Y = X.ravel(), Y.ravel()
    points, areas = [], []
    whole, moment = 0, np.zeros(3)
    for i in range(1, len(poly) - 1):
        a, b, d = poly[0], poly[i], poly[i + 1]
        size = np.linalg.norm(np.cross(b - a, d - a)) / 2
        whole += size
        moment += size * (a + b + d) / 3
        # A square, drawn together at one side to the triangle
        points.append(a + X[:, None] * ((b - a) + Y[:, None] * (d - b)))
        areas.append(2 * size * X / M ** 2)
    wrench = forces(np.concatenate(points), np.concatenate(areas), p, normal,
        np.array(c['twist'][:3]), np.array(c['twist'][3:]), c['craft'], c['current'])
    return {'area': whole, 'centre': list(moment / whole), 'wrench': wrench}

json.dump([case(c) for c in job['cases']], sys.stdout)
`

describe.skipIf(!needs('python3-numpy'))(`${CASES} seeded poses and motions`, () => {
  const random = randomStream(5, 'blade in the water')
  const spread = (size: number) => size * (2 * random.uniform() - 1)
  const cases = Array.from({ length: CASES }, () => ({
    pose: poseOf({
      at: [spread(0.5), spread(1.2), -WATERLINE + spread(0.12)],
      turn: [spread(3), spread(3), spread(3)],
    }),
    twist: Float64Array.of(spread(1), spread(1), spread(0.5), spread(3), spread(3), spread(3)),
    craft: Float64Array.of(spread(1), spread(0.3), spread(0.5)),
    current: Float64Array.of(spread(0.4), spread(0.4)),
  }))
  const blade = new BladeForce(SHAPE, FLAT_PLATE, { density: RHO }, WATERLINE)
  const ours = cases.map(({ pose, twist, craft, current }) => {
    const wrench = new Float64Array(6)
    blade.at(pose, twist, craft, current, wrench)
    return { area: blade.wet.area, centre: blade.wet.centre.slice(), wrench }
  })
  let theirs: Theirs[]

  beforeAll(() => {
    theirs = python<Theirs[]>(PYTHON, { ...SHAPE, rho: RHO, waterline: WATERLINE, cases })
  })

  test('some are dry, some whole, most are cut', () => {
    const whole = SHAPE.length * SHAPE.width
    const cut = ours.filter(({ area }) => area > 0 && area < whole * (1 - 1e-9)).length
    const dry = ours.filter(({ area }) => area === 0).length
    expect(cut).toBeGreaterThan(CASES / 2)
    expect(dry).toBeGreaterThan(10)
    expect(CASES - cut - dry).toBeGreaterThan(10)
  })

  test('wet area and its centroid are those of the clipped polygon, to rounding', () => {
    ours.forEach(({ area, centre }, i) => {
      expect(Math.abs(area - theirs[i]!.area)).toBeLessThan(1e-13)
      // Of a sliver only the place counts, and little.
      const slack = 1e-12 + 1e-15 / Math.max(area, 1e-9)
      for (let k = 0; k < 3; k++) expect(Math.abs(centre[k]! - theirs[i]!.centre[k]!)).toBeLessThan(slack)
    })
  })

  test('force and moment of few strips are those of thousands of places', () => {
    let force = 0
    let moment = 0
    ours.forEach(({ wrench }, i) => {
      const w = theirs[i]!.wrench
      const off = Array.from(wrench, (x, k) => Math.abs(x - w[k]!))
      force = Math.max(force, ...off.slice(0, 3))
      moment = Math.max(moment, ...off.slice(3))
    })
    // The largest here are 86 N and 2.5 N m. Where the flow turns within the blade its square has a bend, which strips smooth.
    expect(force).toBeLessThan(0.01)
    expect(moment).toBeLessThan(0.003)
  })
})
