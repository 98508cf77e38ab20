/** When a joint of the simulated arms is said to move and to rest. Still in the demo rig: `stop.still`, speed x hold is the band. */
import { expect, it } from 'vitest'
import { nanos } from '../../../src/clock.js'
import { loadRig } from '../../../src/files/load.js'
import { MotionTruth } from '../../../src/stand-in/truth.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { DEMO_RIG } from '../../setup/runs.js'

it('rest is dated back to when it began, motion to when it was seen', () => {
  const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
  const truth = new MotionTruth(rig)
  const positions = new Float64Array(rig.joints.length)
  const at = (ms: number) => truth.see(positions, nanos(ms / 1e3)).filter((c) => c.joint === 0)
  const hold = rig.stop.still.hold * 1e3
  expect(at(0)).toEqual([])
  expect(at(hold - 1)).toEqual([])
  expect(at(hold)).toEqual([{ joint: 0, moving: false, since: 0, at: 0 }])
  expect(at(hold + 5)).toEqual([])
  positions[0] = 0.1
  const began = hold + 10
  expect(at(began)).toEqual([{ joint: 0, moving: true, since: nanos(began / 1e3), at: 0.1 }])
  expect(truth.moving(0)).toBe(true)
  expect(at(began + hold)).toEqual([{ joint: 0, moving: false, since: nanos(began / 1e3), at: 0.1 }])
  expect([truth.moving(0), truth.moving(1)]).toEqual([false, false])
})
