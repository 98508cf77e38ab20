import { describe, expect, it } from 'vitest'
import { exitStatus, exitStatusOfAll } from '../../../src/verdict/exit.js'

describe('exit status', () => {
  it.each([
    ['pass', 'completed', 0],
    ['fail', 'stopped', 1],
    ['fail', 'completed', 1],
    ['incomplete', 'cut short', 4],
    ['incomplete', 'signal', 3],
    ['fail', 'signal', 3],
  ] as const)('of %s, %s is %d', (outcome, ended, status) => {
    expect(exitStatus({ outcome, ended })).toBe(status)
  })

  it('of several is the first that occurs of 5, 2, 3, 1, 4, 0', () => {
    expect(exitStatusOfAll([])).toBe(0)
    expect(exitStatusOfAll([0, 0])).toBe(0)
    expect(exitStatusOfAll([0, 4])).toBe(4)
    expect(exitStatusOfAll([4, 1, 0])).toBe(1)
    expect(exitStatusOfAll([4, 1, 3])).toBe(3)
    expect(exitStatusOfAll([3, 2, 1])).toBe(2)
    expect(exitStatusOfAll([2, 5])).toBe(5)
  })
})
