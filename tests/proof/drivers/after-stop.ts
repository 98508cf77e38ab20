/** Drivers that go wrong when they are stopped, or started anew. */
import { ReferenceDriver } from '../../../src/driver/reference.js'
import type { Command } from '../../../src/files/scenario.js'
import { parkTimes } from '../../../src/motion/blade.js'
import { type DriverEntry, rampTime, strokeTime } from '../driver-entry.js'
import { Around, Misheard } from './around.js'

const REST: Command = { surge: 0, yaw: 0 }

export const AFTER_STOP_ENTRIES: readonly DriverEntry[] = [
  {
    name: 'deadlock after a stop',
    what: 'After a new start it does not do anything, whatever it is told.',
    unit: 's for which it does nothing',
    severities: () => [1, 4, Number.POSITIVE_INFINITY],
    script: 'anew',
    driver: (rig, s) => {
      let asked = 0
      return new Misheard(new ReferenceDriver(rig), (command, { starts }) => {
        if (starts < 2) return command
        if (command.surge !== 0 || command.yaw !== 0) asked += rig.control.period
        return asked < s ? REST : command
      })
    },
    expected: 'setpoints',
    detectWithin: rampTime,
    why: 'by then a side would have come to any speed that a command may ask for',
  },
  {
    name: 'resumes an old command',
    what: 'After a new start it goes on with the command from before the stop.',
    unit: 's for which it does so',
    severities: () => [1, 3, Number.POSITIVE_INFINITY],
    script: 'anew',
    driver: (rig, s) => {
      let old = REST
      return new Misheard(new ReferenceDriver(rig), (command, { k, starts }) => {
        if (command.surge !== 0 || command.yaw !== 0) {
          old = command
          return command
        }
        return starts > 1 && k * rig.control.period < s ? old : command
      })
    },
    expected: 'sense',
    detectWithin: (rig) => strokeTime(rig),
    why: 'from its park place a blade is in the water within half a stroke, and moves there unasked',
  },
  {
    name: 'blade not lifted',
    what: 'When the command has been zero for its dwell the blades stay where they are.',
    unit: 's after which they are lifted at last',
    severities: (rig) => [3 * rig.stroke.dwell, 10 * rig.stroke.dwell, 100 * rig.stroke.dwell],
    script: 'pause',
    driver: (rig, s) => new ReferenceDriver({ ...rig, stroke: { ...rig.stroke, dwell: s } }),
    expected: 'stroke',
    detectWithin: (rig) => {
      const { lift, carry } = parkTimes(
        rig.stroke,
        rig.arms.map((arm) => arm.paddle),
      )
      return lift + carry
    },
    why: 'lifting and carrying to the park place would be over by then',
  },
  {
    name: 'does not begin anew',
    what: 'After a new start it goes on from where it was stopped, while the arms stand at the park pose.',
    unit: 'share of the way between the two',
    severities: () => [0.001, 0.02, 1],
    script: 'anew',
    driver: (rig, s) => {
      const inner = new ReferenceDriver(rig)
      const away = new Float64Array(rig.joints.length)
      return new (class extends Around {
        #starts = 0

        override begin(): void {
          this.#starts++
          super.begin()
        }

        override step(command: Command, out: Float64Array): void {
          super.step(command, out)
          if (this.#starts === 1) for (let j = 0; j < out.length; j++) away[j] = out[j]! - this.parkPose[j]!
          else for (let j = 0; j < out.length; j++) out[j] = out[j]! + s * away[j]!
        }
      })(inner)
    },
    expected: 'gate',
    detectWithin: (rig) => 2 * rig.control.period,
    why: 'the first setpoint is a leap and is held back before it is sent',
  },
]
