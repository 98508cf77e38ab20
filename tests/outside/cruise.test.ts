/**
 * A cruise against an integration in time that knows nothing of ours: the blades' ways as the driver sets them, lift and drag on cells of
 * the blade by angle of attack (Cl = Al sin 2a, Cd = Ad sin^2 a, check values 6), hull friction by the ITTC-1957 line (check values 6), the manoeuvring equations
 * of Fossen (2021), integrated by scipy.integrate.solve_ivp from half the commanded way until the craft goes on evenly. Added mass of blades is left out of both.
 */
import { describe, expect, test } from 'vitest'
import { envelopeOf } from '../../src/driver/envelope/envelope.js'
import type { Rig } from '../../src/files/rig.js'
import { Chain } from '../../src/motion/chain.js'
import { hullAddedMass } from '../../src/motion/water/added-mass.js'
import { crossFlowDamping } from '../../src/motion/water/craft-motion.js'
import { waterOf } from '../../src/motion/water/properties.js'
import { needs } from '../setup/needs.js'
import { python } from '../setup/python.js'
import { DEMO, go, Player } from '../unit/driver/play.js'

const PERIOD = 0.02
const SECONDS = 120

const RIG: Rig = {
  ...DEMO,
  clearance: null,
  control: { rate: 1 / PERIOD, period: PERIOD },
  arms: DEMO.arms.map((arm) => ({
    ...arm,
    paddle: { ...arm.paddle, flow: { ...arm.paddle.flow, added: 0 } },
  })),
}

const PYTHON = `
import json, sys
import numpy as np
from scipy.integrate import solve_ivp
j = json.load(sys.stdin)
T, rho, nu, m, h, d = j['period'], j['rho'], j['nu'], j['m'], j['hull'], j['damping']
blades = []
for b in j['blades']:
    P = np.array(b['poses'])
    R, p = P[:, :9].reshape(-1, 3, 3), P[:, 9:]
    s, n = np.array(b['shaft']), np.array(b['normal'])
    c = np.cross(n, s)
    L, W, NL, NW = b['length'], b['width'], 20, 8
    x, y = (np.arange(NL) + .5) / NL * L - L / 2, (np.arange(NW) + .5) / NW * W - W / 2
    cells = np.array([a * s + e * c for a in x for e in y])
    at = np.einsum('tij,cj->tci', R, cells) + p[:, None, :]
    v = np.gradient(at, T, axis=0)
    blades.append((at, v, R @ n, at[:, :, 2] < -j['waterline'], L * W / (NL * NW), b['flow']))
def hull(u):
    re = max(abs(u) * h['length'] / nu, 1e5)
    return .5 * rho * h['area'] * (1 + h['formFactor']) * u * abs(u) * .075 / (np.log10(re) - 2) ** 2
def pull(k, u, v, r):
    out = np.zeros(3)
    for at, vel, normal, wet, area, flow in blades:
        w = wet[k]
        if not w.any(): continue
        a = at[k][w]
        U = vel[k][w] + np.stack([u - r * a[:, 1], v + r * a[:, 0], 0 * a[:, 0]], 1)
        speed = np.linalg.norm(U, axis=1) + 1e-12
        # Angle between velocity and face; lift square to the velocity, away from the side the water comes to.
        sine = U @ normal[k] / speed
        alpha = np.arcsin(np.clip(sine, -1, 1))
        drag = -U / speed[:, None] * (flow['drag'] * np.sin(alpha) ** 2)[:, None]
        across = normal[k] - sine[:, None] * U / speed[:, None]
        across /= np.linalg.norm(across, axis=1)[:, None] + 1e-12
        lift = -across * (flow['lift'] * np.sin(2 * alpha))[:, None]
        F = .5 * rho * area * (speed ** 2)[:, None] * (drag + lift)
        out += [F[:, 0].sum(), F[:, 1].sum(), (a[:, 0] * F[:, 1] - a[:, 1] * F[:, 0]).sum()]
    return out
m11, m22, m66 = m
def slope(t, q):
    u, v, r = q
    X, Y, N = pull(min(int(t / T + .5), len(blades[0][0]) - 1), u, v, r)
    return [(X - hull(u) + m22 * v * r) / m11,
        (Y - d['sway'] * abs(v) * v - m11 * u * r) / m22,
        (N - d['yaw'] * abs(r) * r - (m22 - m11) * u * v) / m66]
end = (len(blades[0][0]) - 1) * T
s = solve_ivp(slope, (0, end), j['begin'], method='RK23', max_step=T, rtol=1e-4, atol=1e-6, t_eval=np.arange(0, end, T))
late = s.y[:, s.t > end - 40]
json.dump({'mean': late.mean(1).tolist(), 'swing': float(np.ptp(late[0])), 'hull': float(np.mean([hull(u) * u for u in late[0]]))}, sys.stdout)
`

interface Theirs {
  readonly mean: readonly [number, number, number]
  readonly swing: number
  readonly hull: number
}

/** m, rotation row by row and place of each blade's centre, one row a period: where the driver has its blades. */
function posesOf(rig: Rig, surge: number, yaw: number): number[][][] {
  const player = new Player(rig)
  const chains = rig.arms.map(
    (arm) =>
      new Chain(
        arm,
        arm.joints.map((i) => rig.joints[i]!),
      ),
  )
  const poses: number[][][] = rig.arms.map(() => [])
  player.play(go(surge, yaw), SECONDS, () => {
    rig.arms.forEach((arm, a) => {
      chains[a]!.forward(Float64Array.from(arm.joints, (i) => player.setpoints[i]!))
      poses[a]!.push([...chains[a]!.blade])
    })
  })
  return poses
}

function integrated(rig: Rig, surge: number, yaw: number): Theirs {
  const { craft, hull, arms } = rig
  const water = waterOf(rig.water!)
  const form = { ...hull!, mass: craft.mass }
  const added = hullAddedMass(form, water)
  const { sway, yaw: turning } = crossFlowDamping(form, water, hull!.crossFlow)
  if (hull!.resistance.kind !== 'wetted') throw new Error('the demo rig states its wetted area')
  const poses = posesOf(rig, surge, yaw)
  return python<Theirs>(PYTHON, {
    period: PERIOD,
    begin: [surge / 2, 0, yaw / 2],
    rho: water.density,
    nu: water.viscosity,
    waterline: craft.waterline,
    m: [craft.mass + added.surge, craft.mass + added.sway, craft.mass * hull!.gyration ** 2 + added.yaw],
    hull: { length: hull!.length, ...hull!.resistance },
    damping: { sway: sway.quadratic, yaw: turning.quadratic },
    blades: arms.map(({ tool, paddle }, a) => ({
      normal: tool.normal,
      shaft: tool.shaft,
      length: paddle.length,
      width: paddle.area / paddle.length,
      flow: paddle.flow,
      poses: poses[a],
    })),
  })
}

describe.skipIf(!needs('python3-scipy'))('a cruise', () => {
  test('straight ahead: speed within 1 %, what it rises and falls within a stroke, and the power at the hull within 3 %', () => {
    const ours = envelopeOf(RIG, [], 8, go(0.45)).cruise!
    const theirs = integrated(RIG, 0.45, 0)
    expect(Math.abs(ours.surge / theirs.mean[0] - 1), `${ours.surge} and ${theirs.mean}`).toBeLessThan(0.01)
    expect(Math.abs(theirs.mean[2])).toBeLessThan(5e-4)
    // Both sides stroke in step there, so that what each makes of the speed adds up.
    expect(Math.abs(ours.wander / theirs.swing - 1), `${ours.wander} and ${theirs.swing}`).toBeLessThan(0.1)
    expect(Math.abs(ours.power.hull / theirs.hull - 1)).toBeLessThan(0.03)
  })

  test('in a turn: speed within 2 %, yaw rate and drift within 4 %', () => {
    const ours = envelopeOf(RIG, [], 8, go(0.35, 0.1)).cruise!
    const { mean } = integrated(RIG, 0.35, 0.1)
    const told = JSON.stringify({ ours: [ours.surge, ours.sway, ours.yaw], mean })
    expect(Math.abs(ours.surge / mean[0] - 1), told).toBeLessThan(0.02)
    expect(Math.abs(ours.yaw / mean[2] - 1), told).toBeLessThan(0.04)
    expect(Math.abs(ours.sway / mean[1] - 1), told).toBeLessThan(0.04)
  })
})
