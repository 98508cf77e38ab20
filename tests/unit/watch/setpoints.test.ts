import { describe, expect, it } from 'vitest'
import { Setpoints } from '../../../src/watch/setpoints.js'

describe('setpoints by SYNC index', () => {
  it('holds the last one through cycles without any, also behind a later one', () => {
    const setpoints = new Setpoints(2, 12)
    setpoints.put(1, 10, 1)
    setpoints.put(1, 15, 2)
    for (let i = 10; i < 15; i++) expect(setpoints.at(1, i)).toBe(1)
    expect(setpoints.at(1, 15)).toBe(2)
    expect(setpoints.at(1, 99)).toBe(2)
    expect(setpoints.between(1, 14.25)).toBe(1.25)
    // A gap longer than what is kept.
    setpoints.put(1, 1000, 3)
    expect(setpoints.at(1, 988)).toBe(2)
    expect(setpoints.at(0, 15)).toBeNaN()
  })

  it('keeps as many as were asked for, and the oldest for what lies before', () => {
    const setpoints = new Setpoints(1, 12)
    for (let i = 5; i <= 100; i++) setpoints.put(0, i, i)
    for (let back = 0; back <= 12; back++) expect(setpoints.at(0, 100 - back)).toBe(100 - back)
    expect(setpoints.at(0, 0)).toBe(100 - 15)
  })

  it('pairs feedback of SYNC n with n - 1, and with nothing before the first', () => {
    const setpoints = new Setpoints(1, 4)
    setpoints.put(0, 7, 0.5)
    expect(setpoints.paired(0, 7)).toBeNaN()
    expect(setpoints.paired(0, 8)).toBe(0.5)
  })

  it('takes the last word in a cycle', () => {
    const setpoints = new Setpoints(1, 4)
    setpoints.put(0, 3, 1)
    setpoints.put(0, 3, 2)
    expect(setpoints.at(0, 3)).toBe(2)
  })
})
