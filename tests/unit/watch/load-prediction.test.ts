/** The craft under the blades of a dry run, against Newton: pulled from rest at one side, for one step. */
import { expect, it } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import { LoadPrediction } from '../../../src/watch/load-prediction.js'

const RIG = readRigFile('rigs/reservoir-skiff.yaml', {})
const ADDED = { surge: 12, sway: 90, yaw: 40 }
const HULL = { ...RIG.hull!, centre: 0, added: ADDED }
const T = 1e-3
const [M11, M66] = [RIG.craft.mass + ADDED.surge, RIG.craft.mass * HULL.gyration ** 2 + ADDED.yaw]

/** Blades that pull with `surge` N along x, 1.1 m to port, and keep how the craft came by. */
function pulled(surge: number) {
  const prediction = new LoadPrediction({ craft: RIG.craft, control: { rate: 1 / T, period: T } }, HULL, {
    density: 1000,
    viscosity: 1e-6,
  })
  const blade = new Float64Array(12)
  blade.set([0.3, 1.1, -0.4], 9)
  const wrench = new Float64Array(6)
  let met = [0, 0, 0]
  const arm = {
    blade,
    wrench,
    wet: (craft: Float64Array) => {
      met = [...craft]
      wrench[0] = surge
    },
  }
  const wet = (): readonly number[] => {
    prediction.wet(arm)
    return met
  }
  return { prediction, step: () => prediction.step(), wet }
}

it('is pulled where the blade is: ahead by force over mass, and round to the other side', () => {
  const { wet, step } = pulled(20)
  expect(wet()).toEqual([0, 0, 0])
  step()
  const [u, v, r] = wet()
  expect(u! / ((20 * T) / M11)).toBeCloseTo(1, 4)
  expect(r! / ((-1.1 * 20 * T) / M66)).toBeCloseTo(1, 4)
  expect(Math.abs(v!)).toBeLessThan(1e-3 * Math.abs(u!))
})

it.each([20, -20])('keeps the fastest way with its sign: pulled by %d N', (surge) => {
  const { prediction, wet, step } = pulled(surge)
  for (let k = 0; k < 5; k++) {
    wet()
    step()
  }
  expect(prediction.fastest / ((5 * surge * T) / M11)).toBeCloseTo(1, 3)
})

it('lies still again after a rest', () => {
  const { prediction, wet, step } = pulled(20)
  wet()
  step()
  prediction.rest()
  expect(wet()).toEqual([0, 0, 0])
})
