import { describe, expect, it } from 'vitest'
import { KernelTime } from '../../../src/bus/kernel-time.js'

const S = 1_795_890_166
/** Of the wall clock, us after S */
const wall = (us: number) => ({ ts_sec: S + Math.floor(us / 1e6), ts_usec: us % 1e6 })

describe("the kernel's stamps in the run's time", () => {
  it('knows nothing before a frame was sent, or of a frame without a stamp', () => {
    const time = new KernelTime()
    expect(time.of(wall(5), 100)).toBe(100)
    time.compare(wall(1000), 7e6, 7.01e6)
    expect(time.of({}, 8e6)).toBe(8e6)
    time.compare({}, 8e6, 8.01e6)
    expect(time.of(wall(1500), 8e6)).toBe(7.5e6)
  })

  it('gives when the kernel saw it, over the second too', () => {
    const time = new KernelTime()
    time.compare(wall(999_000), 7e6, 7.02e6)
    expect(time.of(wall(1_000_250), 20e6)).toBe(8.25e6)
  })

  it('is never ahead of the present', () => {
    const time = new KernelTime()
    time.compare(wall(0), 7e6, 7.02e6)
    expect(time.of(wall(3_600_000_000), 9e6)).toBe(9e6)
  })

  it('follows a wall clock that was set, with the next frame that is sent without delay', () => {
    const time = new KernelTime()
    time.compare(wall(0), 7e6, 7.02e6)
    time.compare(wall(3_600_000_000), 8e6, 8.6e6)
    expect(time.of(wall(1000), 20e6)).toBe(8e6)
    time.compare(wall(3_600_000_000), 9e6, 9.4e6)
    expect(time.of(wall(3_600_001_000), 20e6)).toBe(10e6)
  })

  it('takes a first comparison however long it took: better than none', () => {
    const time = new KernelTime()
    time.compare(wall(0), 7e6, 17e6)
    expect(time.of(wall(1000), 20e6)).toBe(8e6)
  })
})
