/** What each fault between harness and driver does to commands and setpoints. */
import { beforeEach, describe, expect, it } from 'vitest'
import type { Driver } from '../../../src/driver/contract.js'
import { FaultyDriver } from '../../../src/driver/faulty-driver.js'
import type { DriverFaultName } from '../../../src/files/faults/catalogue.js'

const PERIOD = 0.005
let commanded: number[]
let driver: FaultyDriver
let out: Float64Array
let n: number

/** Its setpoints are the number of the step and the surge that it was told. */
const inner: Driver = {
  parkPose: Float64Array.of(7, 7),
  parked: false,
  begin() {},
  step({ surge }, setpoints) {
    commanded.push(surge)
    setpoints[0] = commanded.length
    setpoints[1] = surge
  },
}

beforeEach(() => {
  commanded = []
  out = new Float64Array(2)
  n = 0
  driver = new FaultyDriver(inner, PERIOD)
  driver.begin()
})

/** Steps with surge 1, 2, 3, ...; @returns first setpoints */
const steps = (count: number): number[] =>
  Array.from({ length: count }, () => {
    driver.step({ surge: ++n, yaw: 0 }, out)
    return out[0]!
  })
const fault = (name: DriverFaultName, on: boolean, amount = 0): void =>
  driver.fault({ fault: name, place: 0, other: -1, amount }, on)

it('without a fault everything passes as it is', () => {
  expect(steps(3)).toEqual([1, 2, 3])
  expect(commanded).toEqual([1, 2, 3])
  expect(driver.parkPose).toBe(inner.parkPose)
})

describe('commands', () => {
  it('lost: the last one stays in force', () => {
    steps(2)
    fault('commands-lost', true)
    steps(3)
    fault('commands-lost', false)
    steps(1)
    expect(commanded).toEqual([1, 2, 2, 2, 2, 6])
  })

  it('late: each comes so much later', () => {
    steps(1)
    fault('commands-late', true, 3 * PERIOD)
    steps(6)
    expect(commanded).toEqual([1, 2, 2, 2, 2, 3, 4])
    fault('commands-late', false)
    steps(1)
    expect(commanded.at(-1)).toBe(8)
  })
})

describe('setpoints', () => {
  it('stale: the last ones again and again, while the driver goes on', () => {
    steps(2)
    fault('setpoints-stale', true)
    expect(steps(3)).toEqual([2, 2, 2])
    fault('setpoints-stale', false)
    expect(steps(1)).toEqual([6])
  })

  it('late: each comes so much later, whole', () => {
    steps(1)
    fault('setpoints-late', true, 2 * PERIOD)
    expect(steps(5)).toEqual([2, 2, 2, 3, 4])
    expect(out[1]).toBe(4)
  })

  it('no number: the first of each cycle, the others as they are', () => {
    fault('no-number', true)
    expect(steps(1)).toEqual([Number.NaN])
    expect(out[1]).toBe(1)
  })
})
