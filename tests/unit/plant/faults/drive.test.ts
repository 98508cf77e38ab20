/** What each fault of a drive does to what it does; and those of whole arms. */
import { describe, expect, it } from 'vitest'
import { OBJECT } from '../../../../src/wire/cia402/objects.js'
import type { Talk } from '../line.js'
import { DEG, smallRig, Talk as Talks } from '../line.js'
import { enabled } from './enabled.js'

/** Steadily on at 60 deg/s. */
const SPEED = 60 * DEG
function run(talk: Talk, periods = 60): void {
  const from = talk.measured()
  const t0 = talk.now
  talk.cycle((t) => from + SPEED * (t - t0), periods)
}

/** rad, how far the joint truly goes in `s` from now */
function way(talk: Talk, s: number): number {
  const from = talk.witness()
  talk.pass(s)
  return talk.witness() - from
}

describe('weak', () => {
  it('the joint accelerates by that part of what it could', () => {
    const speedUp = (share: number) => {
      const talk = enabled([[OBJECT.followingWindow, 0xffffffff]])
      talk.cycle(0, 10)
      if (share < 1) talk.fault('weak', true, share)
      const from = talk.witness()
      talk.cycle(1, 12)
      return talk.witness() - from
    }
    // From rest at full torque the way is a t^2 / 2; the loop asks for more than either gives.
    expect(speedUp(0.1) / speedUp(0.2)).toBeCloseTo(0.5, 1)
    expect(speedUp(0.1)).toBeLessThan(0.3 * speedUp(1))
  })
})

describe('hot', () => {
  it('torque fades, then fault with 4310h when the time is over', () => {
    const talk = enabled()
    talk.cycle(0, 10)
    const from = talk.now
    talk.fault('hot', true, 1)
    talk.cycle(0, 190)
    expect(talk.emergencies()).toEqual([])
    talk.cycle(0, 20)
    expect(talk.emergencies()).toEqual(['4310'])
    const told = talk.heard.find(({ frame }) => frame.id === 0x8b)!
    expect(told.t - from).toBeCloseTo(1, 2)
    expect(talk.state()).toBe('fault')
  })

  it('cooled down before that nothing has happened', () => {
    const talk = enabled()
    talk.fault('hot', true, 1)
    talk.cycle(0, 100)
    talk.fault('hot', false)
    talk.cycle(0, 200)
    expect(talk.emergencies()).toEqual([])
    expect(talk.state()).toBe('operation enabled')
  })
})

describe('lagging', () => {
  it('the joint follows that much later', () => {
    const lag = (delay: number) => {
      const talk = enabled([[OBJECT.followingWindow, 0xffffffff]])
      talk.cycle(0, 10)
      if (delay > 0) talk.fault('lagging', true, delay)
      run(talk, 200)
      return -talk.witness() / SPEED
    }
    expect(lag(0.08) - lag(0)).toBeCloseTo(0.08, 3)
  })
})

describe('tripped', () => {
  it('fault by itself, with 5000h', () => {
    const talk = enabled()
    run(talk)
    talk.fault('tripped', true)
    expect(talk.emergencies()).toEqual(['5000'])
    talk.pass(0.2)
    expect(talk.state()).toBe('fault')
  })
})

describe('stop-ignored', () => {
  it('a quick stop does nothing, also by SDO; disable voltage does', () => {
    const talk = enabled()
    run(talk)
    talk.fault('stop-ignored', true)
    talk.control('quick stop')
    expect(talk.write(OBJECT.controlword, 2)).toBe('done')
    expect(talk.state()).toBe('operation enabled')
    talk.control('disable voltage')
    expect(talk.state()).toBe('switch on disabled')
  })
})

describe('stop-missed', () => {
  it('so many of the next frames that stop or disable are missed, then one is heard', () => {
    const talk = enabled()
    run(talk)
    talk.fault('stop-missed', true, 2)
    talk.control('quick stop')
    talk.control('disable voltage')
    expect(talk.state()).toBe('operation enabled')
    talk.control('quick stop')
    talk.pass(0.2)
    expect(talk.state()).toBe('switch on disabled')
  })
})

describe('running-on', () => {
  it.each(['quick stop', 'disable voltage'] as const)(
    'after %s the joint keeps its speed for that time',
    (command) => {
      const talk = enabled()
      run(talk)
      talk.fault('running-on', true, 0.2)
      talk.control(command)
      expect(way(talk, 0.19)).toBeCloseTo(0.19 * SPEED, 2)
      talk.pass(0.3)
      expect(way(talk, 0.5)).toBeCloseTo(0, 6)
      expect(talk.state()).toBe('switch on disabled')
    },
  )

  it('after a fault too', () => {
    const talk = enabled()
    run(talk)
    talk.fault('running-on', true, 0.2)
    talk.fault('tripped', true)
    expect(way(talk, 0.19)).toBeCloseTo(0.19 * SPEED, 2)
    talk.pass(0.3)
    expect(talk.state()).toBe('fault')
    expect(way(talk, 0.5)).toBeCloseTo(0, 6)
  })
})

describe('unguarded', () => {
  it('when SYNC and setpoints cease the drive goes on standing enabled; without the fault it stops', () => {
    const state = (on: boolean) => {
      const talk = enabled()
      run(talk)
      talk.fault('unguarded', on)
      talk.hush()
      talk.pass(1)
      return talk.state()
    }
    expect(state(false)).toBe('switch on disabled')
    expect(state(true)).toBe('operation enabled')
  })
})

describe('an arm', () => {
  // Joints 0 and 1 are the one arm, joint 2 the other.
  const arms = () => {
    const talk = new Talks(smallRig({}, { count: 3 }))
    talk.pass(0.01)
    for (const node of [11, 12, 13]) talk.setUp([[OBJECT.producerHeartbeat, 50]], node)
    talk.nmt('start')
    talk.pass(0.1)
    talk.heard.length = 0
    return talk
  }
  const speaking = (talk: Talk) => [...new Set(talk.heard.map(({ frame }) => frame.id))].sort()

  it('dead: all its drives are silent, those of the other not; then they boot', () => {
    const talk = arms()
    talk.fault('dead', true)
    talk.pass(0.2)
    expect(speaking(talk)).toEqual([0x70d])
    talk.heard.length = 0
    talk.fault('dead', false)
    talk.pass(0.01)
    expect(speaking(talk)).toEqual(expect.arrayContaining([0x70b, 0x70c]))
  })

  it('supply-sagging: below 60 % its drives go into fault with 3220h, above it not', () => {
    const talk = arms()
    talk.fault('supply-sagging', true, 0.7)
    talk.pass(0.1)
    expect(talk.emergencies()).toEqual([])
    talk.fault('supply-sagging', true, 0.5)
    expect(talk.emergencies()).toEqual(['3220'])
    expect(talk.heard.map(({ frame }) => frame.id)).not.toContain(0x8d)
    expect(talk.heard.map(({ frame }) => frame.id)).toContain(0x8c)
  })

  it('loose: its joints tremble as one at 11 Hz', () => {
    const talk = arms()
    const [zero, one, two] = [talk.witness(0), talk.witness(1), talk.witness(2)]
    talk.fault('loose', true, 0.3 * DEG)
    let most = 0
    for (let i = 0; i < 200; i++) {
      talk.pass(0.001)
      expect(talk.witness(0) - zero).toBeCloseTo(talk.witness(1) - one, 12)
      most = Math.max(most, talk.witness(0) - zero)
      expect(talk.witness(2)).toBe(two)
    }
    expect(most).toBeCloseTo(0.3 * DEG, 4)
  })

  it('swapped-sides: its drives move the joints of the other side', () => {
    const talk = new Talks(smallRig({}, { count: 2 }))
    talk.fault('swapped-sides', true)
    talk.enable()
    for (let i = 0; i <= 100; i++) talk.cycle(10 * DEG * (i / 100))
    talk.cycle(10 * DEG, 50)
    expect(talk.witness(0)).toBeCloseTo(0, 9)
    expect(talk.witness(1)).toBeCloseTo(10 * DEG, 3)
  })
})
