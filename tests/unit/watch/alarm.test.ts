import { describe, expect, it } from 'vitest'
import { Alarm } from '../../../src/watch/alarm.js'

describe('alarm', () => {
  it('tells a failure once until it has been gone for 100 ms', () => {
    const alarm = new Alarm(2)
    expect(alarm.rises(0, 2, 0)).toBe(true)
    expect(alarm.rises(0, 2, 1e6)).toBe(false)
    expect(alarm.rises(0, 0, 50e6)).toBe(false)
    expect(alarm.rises(0, 2, 90e6)).toBe(false) // back too soon
    expect(alarm.rises(0, 0, 191e6)).toBe(false)
    expect(alarm.rises(0, 2, 192e6)).toBe(true)
    expect(alarm.rises(1, 2, 192e6)).toBe(true) // another place
  })

  it('tells a warning once a run, and none while it fails', () => {
    const alarm = new Alarm(1)
    expect(alarm.rises(0, 1, 0)).toBe(true)
    expect(alarm.rises(0, 0, 1e9)).toBe(false)
    expect(alarm.rises(0, 1, 2e9)).toBe(false)
    expect(alarm.rises(0, 2, 3e9)).toBe(true)
    const other = new Alarm(1)
    expect(other.rises(0, 2, 0)).toBe(true)
    expect(other.rises(0, 1, 5e6)).toBe(false)
  })
})
