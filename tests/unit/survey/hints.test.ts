/** One hint for each symptom, and none without: a whole picture with one thing changed. */
import { describe, expect, it } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { hints } from '../../../src/survey/hints.js'
import { Listener } from '../../../src/survey/listen.js'
import type { BusPicture, JointPicture, Picture } from '../../../src/survey/picture.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { frame } from '../../../src/wire/frame.js'
import { DEMO_RIG } from '../../setup/runs.js'

const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
const empty = new Listener(rig).picture(1)
const whole: Picture = {
  ...empty,
  buses: empty.buses.map((b) => ({ ...b, frames: 100 })),
  joints: empty.joints.map((j) => ({
    ...j,
    ...{ feedback: { ...j.feedback, count: 50 }, position: 0, inside: true },
  })),
}
const seen = (bus: Partial<BusPicture>, joint: Partial<JointPicture>): string[] =>
  hints(
    {
      ...whole,
      buses: whole.buses.map((b, i) => (i === 0 ? { ...b, ...bus } : b)),
      joints: whole.joints.map((j, i) => (i === 0 ? { ...j, ...joint } : j)),
    },
    rig,
  ).map((h) => `${h.place}: ${h.seen}`)

describe('a hint', () => {
  it('is not given where all is well', () => expect(seen({}, {})).toEqual([]))

  it.each<[string, Partial<BusPicture>]>([
    ['the controller has gone bus-off', { state: 'bus-off' }],
    ['the controller is error passive', { state: 'passive' }],
    ['the bus is down', { state: 'down' }],
    ['frames come in batches, every 16 ms', { batches: 0.016 }],
    ['node 42 speaks and is no joint of the rig', { strangers: [{ node: 42, state: 'operational' }] }],
  ])('of the bus: %s', (says, change) => expect(seen(change, {})).toEqual([`port-can: ${says}`]))

  it.each<[RegExp, Partial<JointPicture>]>([
    [/^port\.swing: stands at .* outside its limits/, { inside: false }],
    [/^port\.swing: sent the emergency code 8130h$/, { emergency: 0x8130 }],
    [/^port\.swing: has just booted$/, { booted: true }],
    [/^port\.swing: its drive is in fault$/, { state: 'fault' }],
  ])('of the joint: %s', (says, change) => {
    const [one, ...others] = seen({}, change)
    expect(one).toMatch(says)
    expect(others).toEqual([])
  })

  it('names each joint of a quiet bus on which something else speaks', () => {
    const quiet = { ...whole, joints: empty.joints }
    expect(hints(quiet, rig)).toHaveLength(12)
  })
})

it('a boot-up message is no heartbeat', () => {
  const listener = new Listener(rig)
  listener.frame(0, frame(0x700 + 11, Uint8Array.of(0)), 1e6)
  expect(listener.picture(1).joints[0]).toMatchObject({ booted: true, heartbeat: { count: 0 } })
})

it.each([
  ['below', -1e-6, 'lower', false],
  ['at', 0, 'lower', true],
  ['at', 0, 'upper', true],
  ['above', 1e-6, 'upper', false],
] as const)('a joint that stands %s (%d rad) its %s limit', (_, by, end, inside) => {
  const position = rig.joints[0]!.limits[end] + by
  const answer = { answered: true, deviceType: 0, identity: [], state: 'fault', position } as const
  const asked = { answers: [answer], refusals: [] }
  expect(new Listener(rig).picture(1, asked).joints[0]!.inside).toBe(inside)
})
