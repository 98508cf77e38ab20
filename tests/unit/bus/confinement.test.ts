import { describe, expect, it } from 'vitest'
import { type ConfinementInput, confine, NO_ERRORS, stateOf } from '../../../src/bus/confinement.js'

const counted = (inputs: readonly ConfinementInput[], from = NO_ERRORS) => inputs.reduce(confine, from)
const times = (n: number, input: ConfinementInput): ConfinementInput[] => new Array(n).fill(input)

describe('error confinement', () => {
  // Thresholds: project check values 1 (Linux can/error.h); steps: ISO 11898-1, from memory.
  it('warns at 96, is passive at 128 and off above 255, by the transmit counter', () => {
    const states = [95, 96, 127, 128, 255, 256].map((transmit) => stateOf({ transmit, receive: 0 }))
    expect(states).toEqual(['active', 'warning', 'warning', 'passive', 'passive', 'bus-off'])
  })

  it('warns and is passive by the receive counter too, and is never off by it', () => {
    const states = [95, 96, 127, 128, 1000].map((receive) => stateOf({ transmit: 0, receive }))
    expect(states).toEqual(['active', 'warning', 'warning', 'passive', 'passive'])
  })

  it('counts a failed send as eight good ones: 12 warn, 16 make it passive, 32 in a row switch it off', () => {
    const path = Array.from({ length: 32 }, (_, n) => stateOf(counted(times(n + 1, 'send failed'))))
    expect([path.indexOf('warning'), path.indexOf('passive'), path.indexOf('bus-off')]).toEqual([11, 15, 31])
    expect(counted([...times(3, 'send failed'), ...times(23, 'sent')])).toEqual({ transmit: 1, receive: 0 })
    expect(counted([...times(3, 'send failed'), ...times(25, 'sent')])).toBe(NO_ERRORS)
  })

  it('lets a controller that nobody acknowledges become passive, and no more', () => {
    expect(counted(times(16, 'not acknowledged'))).toEqual({ transmit: 128, receive: 0 })
    expect(counted(times(100_000, 'not acknowledged'))).toEqual({ transmit: 128, receive: 0 })
    expect(counted(['not acknowledged'], { transmit: 0, receive: 128 })).toEqual({
      transmit: 0,
      receive: 128,
    })
  })

  it('counts errors of what comes in by one, and by eight more when it alone saw them', () => {
    expect(counted(['receive failed', 'receive failed', 'received'])).toEqual({ transmit: 0, receive: 1 })
    expect(counted(['receive failed', 'flagged first'])).toEqual({ transmit: 0, receive: 9 })
  })

  it('puts a passive receiver below passive with the first frame that comes in whole', () => {
    const passive = counted(times(15, 'flagged first'), { transmit: 0, receive: 10 })
    expect(stateOf(passive)).toBe('passive')
    // ISO 11898-1: to a value between 119 and 127.
    const { receive } = confine(passive, 'received')
    expect(receive).toBeGreaterThanOrEqual(119)
    expect(receive).toBeLessThanOrEqual(127)
  })
})
