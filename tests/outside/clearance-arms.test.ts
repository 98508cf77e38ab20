/**
 * The bodies of the demo's arms and their distances, made anew by other means: joint frames by the Orocos Kinematics and Dynamics
 * Library (Debian's python3-pykdl), capsules and boxes from the rig's own words on them, distances by bounded least squares
 * (BVLS of Debian's python3-scipy), in one process of Debian's own Python.
 */
import { spawnSync } from 'node:child_process'
import { describe, expect, test } from 'vitest'
import { readRigFile } from '../../src/files/load.js'
import { Bodies, type ThickRig } from '../../src/motion/clearance/bodies.js'
import { pairsOf } from '../../src/motion/clearance/pairs.js'
import { ClearanceSweep } from '../../src/motion/clearance/sweep.js'
import { randomStream } from '../../src/random.js'
import { needs } from '../setup/needs.js'

const POSES = 40
const rig = readRigFile('rigs/reservoir-skiff.yaml', {})
const thick: ThickRig = { ...rig, clearance: rig.clearance! }

const PYTHON = `
import json, sys
import numpy as np
import PyKDL as kdl
from scipy.optimize import lsq_linear
job = json.load(sys.stdin)
size = job['clearance']
def frame(p):
    return kdl.Frame(kdl.Rotation.RPY(*p['turn']), kdl.Vector(*p['at']))
def vector(v):
    return np.array([v[0], v[1], v[2]])
def bodies(q):
    found = []
    for arm in job['arms']:
        here = frame(arm['base'])
        points = [vector(here.p)]
        for i in arm['joints']:
            joint = job['joints'][i]
            here = here * frame(joint['origin'])
            points.append(vector(here.p))
            here = here * kdl.Frame(kdl.Rotation.Rot(kdl.Vector(*joint['axis']), q[i]))
        blade = here * frame(arm['tool']['pose'])
        shaft, normal = np.array(arm['tool']['shaft']), np.array(arm['tool']['normal'])
        across = np.cross(normal, shaft)
        def at(along, aside):
            return vector(blade * kdl.Vector(*(along * arm['paddle']['length'] * shaft + aside * arm['paddle']['width'] * across)))
        name = arm['name']
        radii = [size['links'][i] for i in arm['joints']]
        found.append((name + '.base', points[0], points[1], size['base']))
        for k, i in enumerate(arm['joints']):
            found.append((job['joints'][i]['name'], points[k + 1], points[min(k + 2, len(points) - 1)], radii[k]))
        found.append((name + '.shaft', points[-1], at(-0.5, 0), size['paddle']))
        for aside in (-1 / 3, 0, 1 / 3):
            found.append((name + '.blade', at(-0.5, aside), at(0.5, aside), max(arm['paddle']['width'] / 6, size['paddle'])))
    for volume in size['keepOut']:
        for part in volume['parts']:
            if part['shape'] == 'capsule':
                found.append((volume['name'], np.array(part['from']), np.array(part['to']), part['radius']))
            else:
                found.append((volume['name'], frame(part['pose']), np.array(part['size']) / 2, part['radius']))
    return found
def unknowns(body):
    name, first, second, radius = body
    if isinstance(first, kdl.Frame):
        R = np.array([[first.M[r, c] for c in range(3)] for r in range(3)])
        return vector(first.p), R, -second, second, radius
    return first, (second - first)[:, None], [0], [1], radius
def distance(a, b):
    p, A, alow, ahigh, ra = unknowns(a)
    r, B, blow, bhigh, rb = unknowns(b)
    M = np.concatenate([A, -B], 1)
    x = lsq_linear(M, r - p, (np.concatenate([alow, blow]), np.concatenate([ahigh, bhigh])), method='bvls', tol=1e-15, max_iter=200).x
    return float(np.linalg.norm(M @ x - (r - p))) - ra - rb
answers = []
for q in job['poses']:
    found = bodies(q)
    least = {}
    for x in range(len(found)):
        for y in range(x + 1, len(found)):
            key = found[x][0] + ' ' + found[y][0]
            if key not in job['pairs']: continue
            least[key] = min(least.get(key, 9), distance(found[x], found[y]))
    answers.append(least)
json.dump(answers, sys.stdout)
`

describe.skipIf(!needs('python3-pykdl', 'python3-scipy'))('the demo arms', () => {
  test(`at ${POSES} seeded poses the least distance of each group agrees to 1e-9 m, and its pair`, () => {
    const random = randomStream(31, 'arms')
    const poses = Array.from({ length: POSES }, () =>
      rig.joints.map(({ limits: { lower, upper } }) => lower + random.uniform() * (upper - lower)),
    )
    const bodies = new Bodies(thick)
    const { groups, pairs } = pairsOf(thick, bodies)
    const named = ({ a, b }: { a: number; b: number }) => `${bodies.names[a]} ${bodies.names[b]}`
    const { arms, joints, clearance } = thick
    const job = { arms, joints, clearance, poses, pairs: [...new Set(pairs.map(named))] }
    const run = spawnSync('/usr/bin/python3', ['-c', PYTHON], {
      input: JSON.stringify(job),
      encoding: 'utf8',
      maxBuffer: 1e8,
    })
    if (run.status !== 0) throw new Error(run.stderr)
    const theirs: Record<string, number>[] = JSON.parse(run.stdout)
    expect(theirs).toHaveLength(POSES)
    let compared = 0
    poses.forEach((pose, i) => {
      const sweep = new ClearanceSweep(thick, 0.1, 0)
      sweep.start(Float64Array.from(pose), 0)
      groups.forEach((_, g) => {
        const mine = new Set(pairs.filter((p) => p.group === g).map(named))
        const [pair, least] = Object.entries(theirs[i]!)
          .filter(([name]) => mine.has(name))
          .reduce((a, b) => (b[1] < a[1] ? b : a))
        const { first, second, distance } = sweep.nearest(g)!
        if (least < 0) {
          // Overlapping bodies are told, but not looked at any closer, nor are the others of the group.
          expect(distance).toBeLessThan(0)
          expect(theirs[i]![`${first} ${second}`]!).toBeLessThan(distance + 1e-9)
          return
        }
        expect(distance).toBeCloseTo(least, 9)
        // Where two are equally near, as a link and the ball at its end, either may be named.
        expect(theirs[i]![`${first} ${second}`]! - theirs[i]![pair]!).toBeLessThan(1e-9)
        compared++
      })
    })
    expect(compared).toBeGreaterThan(4 * POSES)
  }, 300_000)
})
