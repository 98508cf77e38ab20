/** What each state of a controller means for what can come in there. */
import { expect, it } from 'vitest'
import type { BusState } from '../../../src/files/event.js'
import { type BusEvent, BusHealth, isOut } from '../../../src/watch/bus-health.js'
import { rig as aRig } from './rig.js'

const rig = aRig()
const event = (place: string, state: BusState): BusEvent => ({
  ...{ kind: 'bus', t: 0, place, state, trouble: 'none', says: '' },
  transmitErrors: null,
  receiveErrors: null,
})

it.each([
  ['active', false, false],
  ['warning', false, false],
  ['passive', false, true],
  ['bus-off', true, true],
  ['down', true, true],
  ['gone', true, true],
] as const)('%s: deaf %s, failing %s, and only that bus', (state, deaf, failing) => {
  const health = new BusHealth(rig)
  const [first, second] = rig.buses
  expect(health.see(event(second!.name, state))).toBe(1)
  expect([health.state(1), health.isDeaf(1), health.isFailing(1)]).toEqual([state, deaf, failing])
  expect(isOut(state)).toBe(deaf)
  expect([first!.name, health.state(0), health.isDeaf(0), health.isFailing(0)]).toEqual([
    first!.name,
    'active',
    false,
    false,
  ])
})

it('a bus that the rig does not have changes nothing', () => {
  const health = new BusHealth(rig)
  expect(health.see(event('no-such-bus', 'gone'))).toBe(-1)
  expect(rig.buses.map((_, b) => health.state(b))).toEqual(rig.buses.map(() => 'active'))
})
