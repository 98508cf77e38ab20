/** Drivers that make of the command what it does not say. */
import { ReferenceDriver } from '../../../src/driver/reference.js'
import type { Rig } from '../../../src/files/rig.js'
import type { Command } from '../../../src/files/scenario.js'
import { type DriverEntry, fastest, LEAST_SHARE, rampTime, strokeTime } from '../driver-entry.js'
import { bySides, Misheard } from './around.js'

const REST: Command = { surge: 0, yaw: 0 }

/** m that a blade may go the wrong way before it is more than noise: a twentieth of a stroke. */
const WRONG_WAY = 0.05

/** s until a blade that starts parked has gone the wrong way in the water. */
const wrongWay = (rig: Rig): number =>
  rampTime(rig) + strokeTime(rig) / 2 + (WRONG_WAY * rig.stroke.length) / (LEAST_SHARE * fastest(rig))

/** s until a side's steady speed is known: it is reached, sides that are coupled have come into step, one stroke is whole. */
const steadySpeed = (rig: Rig): number => rampTime(rig) + 5 + strokeTime(rig)
const STEADY = 'a mean over one stroke, once the command has been steady for five seconds'

function misheard(rig: Rig, hear: (c: Command, place: { k: number; starts: number }) => Command): Misheard {
  return new Misheard(new ReferenceDriver(rig), hear)
}

export const COMMAND_ENTRIES: readonly DriverEntry[] = [
  {
    name: 'yaw sign',
    what: 'It turns to starboard when it should turn to port.',
    unit: 'share of the yaw rate that is turned round; 1: all of it',
    severities: () => [0.75, 1, 1.25],
    script: 'turn',
    driver: (rig, s) => misheard(rig, ({ surge, yaw }) => ({ surge, yaw: (1 - 2 * s) * yaw })),
    expected: 'sense',
    detectWithin: steadySpeed,
    why: `each side goes at the other's speed: ${STEADY}`,
  },
  {
    name: 'surge sign',
    what: 'It goes astern when it should go ahead.',
    unit: 'share of the surge that is turned round; 1: all of it',
    severities: () => [0.75, 1, 1.05],
    script: 'ahead',
    driver: (rig, s) => misheard(rig, ({ surge, yaw }) => ({ surge: (1 - 2 * s) * surge, yaw })),
    expected: 'sense',
    detectWithin: wrongWay,
    why: 'from its park place a blade is in the water within half a stroke, and then pushes the wrong way',
  },
  {
    name: 'yaw scaled',
    what: 'It works with another track than the craft has, so that it turns too little.',
    unit: 'share of the track',
    severities: () => [0.9, 0.5, 0.25],
    script: 'turn',
    driver: (rig, s) => misheard(rig, ({ surge, yaw }) => ({ surge, yaw: s * yaw })),
    expected: 'sense',
    detectWithin: steadySpeed,
    why: STEADY,
  },
  {
    name: 'slow sides',
    what: 'Both sides go slower than they are asked to.',
    unit: 'share that the side speeds lack',
    severities: () => [0.03, 0.1, 0.25],
    script: 'ahead',
    driver: (rig, s) => misheard(rig, ({ surge, yaw }) => ({ surge: (1 - s) * surge, yaw: (1 - s) * yaw })),
    expected: 'sense',
    detectWithin: steadySpeed,
    why: STEADY,
  },
  {
    name: 'one side slow',
    what: 'The port side goes slower than it is asked to, so that the craft turns.',
    unit: "share that the port side's speed lacks",
    severities: () => [0.03, 0.1, 0.25],
    script: 'ahead',
    driver: (rig, s) =>
      misheard(
        rig,
        bySides(rig, (port, starboard) => [(1 - s) * port, starboard]),
      ),
    expected: 'sense',
    detectWithin: steadySpeed,
    why: STEADY,
  },
  {
    name: 'dead band',
    what: 'Side speeds up to a threshold count as zero, and all others are lower by it.',
    unit: 'm/s, threshold',
    severities: (rig) => [0.03 * fastest(rig), 0.1 * fastest(rig), 0.3 * fastest(rig)],
    script: 'ahead',
    driver: (rig, s) => {
      const less = (v: number): number => Math.sign(v) * Math.max(0, Math.abs(v) - s)
      return misheard(
        rig,
        bySides(rig, (port, starboard) => [less(port), less(starboard)]),
      )
    },
    expected: 'sense',
    detectWithin: steadySpeed,
    why: STEADY,
  },
  {
    name: 'command delayed',
    what: 'Every command is heeded only after a while.',
    unit: 's',
    severities: () => [0.1, 0.5, 1],
    script: 'ahead',
    driver: (rig, s) => {
      const waiting: Command[] = Array.from({ length: Math.round(s / rig.control.period) }, () => REST)
      return misheard(rig, (command) => {
        waiting.push(command)
        return waiting.shift()!
      })
    },
    expected: 'driver',
    detectWithin: (rig, s) => s + 20 * rig.control.period,
    why: 'the delay is known when it is over; twenty periods for the motion to stand out of the noise',
  },
  {
    name: 'clock drifts',
    what: "The driver's clock runs ever faster, and with it the strokes.",
    unit: 'share by which the rate is off after a minute',
    severities: () => [0.1, 0.5, 1.5],
    script: 'ahead',
    driver: (rig, s) =>
      misheard(rig, ({ surge, yaw }, { k }) => {
        const rate = 1 + (s * k * rig.control.period) / 60
        return { surge: rate * surge, yaw: rate * yaw }
      }),
    expected: 'sense',
    // The rate is then off by a tenth, a mean over one stroke later.
    detectWithin: (rig, s) => steadySpeed(rig) + (0.1 * 60) / s,
    why: 'the time in which the rate comes to be off by a tenth, and a mean over one stroke',
  },
  {
    name: 'double rate',
    what: 'It is stepped more often than once a period, so that everything goes faster.',
    unit: 'steps a period',
    severities: () => [1.25, 2, 3],
    script: 'half',
    driver: (rig, s) => {
      const inner = new ReferenceDriver(rig)
      let owed = 0
      return {
        parkPose: inner.parkPose,
        get parked() {
          return inner.parked
        },
        begin() {
          owed = 0
          inner.begin()
        },
        step(command, out) {
          for (owed += s; owed >= 1; owed--) inner.step(command, out)
        },
      }
    },
    expected: 'gate',
    detectWithin: (rig) => rampTime(rig) + strokeTime(rig, 0.3 * fastest(rig)),
    why: 'on the recovery joints are faster than half of their limits, at whatever speed: twice that is beyond them',
  },
  {
    name: 'integrator wind-up',
    what: 'While the craft is driven a surplus of side speed gathers, and goes away only slowly once the command is zero.',
    unit: 'share of the side speed, surplus',
    severities: () => [0.05, 0.2, 0.5],
    script: 'pause',
    driver: (rig, s) => {
      const [gathers, goes] = [2, 3]
      const { period } = rig.control
      let surplus = REST
      return misheard(rig, (command) => {
        const { surge, yaw } = command
        const moving = surge !== 0 || yaw !== 0
        const share = period / (moving ? gathers : goes)
        surplus = {
          surge: surplus.surge + share * (s * surge - surplus.surge),
          yaw: surplus.yaw + share * (s * yaw - surplus.yaw),
        }
        return { surge: surge + surplus.surge, yaw: yaw + surplus.yaw }
      })
    },
    expected: 'sense',
    detectWithin: (rig) => steadySpeed(rig) + 2,
    why: `${STEADY}; and two seconds in which the surplus gathers`,
  },
  {
    name: 'ignores a zero command',
    what: 'When the command becomes zero it goes on with the last one.',
    unit: 's for which it goes on',
    severities: () => [0.5, 3, Number.POSITIVE_INFINITY],
    script: 'pause',
    driver: (rig, s) => {
      let last = REST
      let since = 0
      return misheard(rig, (command) => {
        if (command.surge !== 0 || command.yaw !== 0) {
          last = command
          since = 0
          return command
        }
        return since++ * rig.control.period < s ? last : command
      })
    },
    expected: 'sense',
    detectWithin: wrongWay,
    why: 'the sides might have slowed down till then; a blade out of the water is back in it within half a stroke, and then moves unasked',
  },
  {
    name: 'no ramp',
    what: 'Side speeds follow the command more abruptly than the rig asks of its driver.',
    unit: "times the driver's acceleration",
    severities: () => [2, 10, 100],
    script: 'there and back',
    driver: (rig, s) => {
      const { acceleration, jerk } = rig.driver
      return new ReferenceDriver({
        ...rig,
        driver: { ...rig.driver, acceleration: s * acceleration, jerk: s * s * jerk },
      })
    },
    expected: 'setpoints',
    detectWithin: rampTime,
    why: 'the first ramp shows it before it would be over',
  },
]
