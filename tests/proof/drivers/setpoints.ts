/** Drivers that work out the right setpoints and hand out others. */
import { ReferenceDriver } from '../../../src/driver/reference.js'
import { DrystrokeError } from '../../../src/errors.js'
import type { Rig } from '../../../src/files/rig.js'
import { randomStream } from '../../../src/random.js'
import { approachTime, type DriverEntry, leastLeap, rampTime, strokeTime } from '../driver-entry.js'
import { firstJoints, jointOf, Mishandled, type Place } from './around.js'

/** s after the begin at which a wrong comes up that is not there from the start: the first strokes are under way. */
const COMES_UP = 4

/** The reference driver's setpoints, changed before they are handed out. @param parked the park pose too */
function handed(rig: Rig, hand: (out: Float64Array, place: Place) => void, parked = false): Mishandled {
  return new Mishandled(new ReferenceDriver(rig), hand, parked)
}

/** Setpoints scaled about the park pose. */
function scaled(rig: Rig, joints: readonly number[], factor: number): Mishandled {
  const inner = new ReferenceDriver(rig)
  return new Mishandled(inner, (out) => {
    for (const j of joints) out[j] = inner.parkPose[j]! + factor * (out[j]! - inner.parkPose[j]!)
  })
}

/** What another place in the joint list is given instead of its own. @param pairs of joints that change places */
function swapped(rig: Rig, pairs: readonly (readonly [number, number])[]): Mishandled {
  return handed(
    rig,
    (out) => {
      for (const [a, b] of pairs) [out[a], out[b]] = [out[b]!, out[a]!]
    },
    true,
  )
}

/** Two neighbouring joints of the port arm. @param s place of the first of the two, from the blade */
function neighboursSwapped(rig: Rig, s: number): Mishandled {
  const { joints } = rig.arms[0]!
  const first = joints.length - 1 - s
  return swapped(rig, [[joints[first]!, joints[first + 1]!]])
}

const isDue = (rig: Rig, { k, starts }: Place): boolean =>
  starts === 1 && k === Math.round(COMES_UP / rig.control.period)

const AT_ONCE = 'the setpoint is held back before it is sent; one period for it to be noticed'
const onePeriod = (rig: Rig): number => 2 * rig.control.period
/** s until a joint is as fast as a stop from one period to the next would need more than its acceleration limit. */
const fastEnough = (rig: Rig): number => strokeTime(rig) / 2
const FAST_ENOUGH = 'within half a stroke a joint is so fast that a setpoint that stays behind is a leap'
/** s in which a line is told from noise: four windows of one second, for a resolution of one hertz. */
const fourWindows = (): number => 4
const WINDOWS = 'four windows of one second, for a mean spectrum with a resolution of one hertz'

export const SETPOINT_ENTRIES: readonly DriverEntry[] = [
  {
    name: 'sign of a joint',
    what: 'The port swing joint goes the wrong way about its park place.',
    unit: 'share of its motion that is turned round; 1: all of it, 0.5: it stands still',
    severities: () => [0.5, 1, 1.25],
    script: 'ahead',
    driver: (rig, s) => scaled(rig, [jointOf(rig, 'swing')], 1 - 2 * s),
    expected: 'sense',
    detectWithin: (rig) => strokeTime(rig),
    why: 'the blade goes the wrong way in the water in the first drive',
  },
  {
    name: 'degrees for radians',
    what: 'Motions from the park pose are handed out in degrees.',
    unit: 'joints',
    severities: (rig) => [1, rig.arms[0]!.joints.length, rig.joints.length],
    script: 'ahead',
    driver: (rig, s) => scaled(rig, firstJoints(rig, s), 180 / Math.PI),
    expected: 'gate',
    // The side's acceleration has come up with its jerk by then, and 57 times it is beyond every joint's limit.
    detectWithin: (rig) => rig.driver.acceleration / rig.driver.jerk + 2 * rig.control.period,
    why: 'the time in which the side comes to its full acceleration: 57 times that no joint bears',
  },
  {
    name: 'radians for degrees',
    what: 'Motions from the park pose are a fifty-seventh of what they should be.',
    unit: 'joints',
    severities: (rig) => [1, rig.arms[0]!.joints.length, rig.joints.length],
    script: 'ahead',
    driver: (rig, s) => scaled(rig, firstJoints(rig, s), Math.PI / 180),
    expected: 'stroke',
    detectWithin: (rig) => rampTime(rig) + 1.5 * strokeTime(rig),
    why: 'one whole stroke that ought to have come',
  },
  {
    name: 'sides swapped',
    what: "Each arm is given the other's setpoints.",
    unit: 'pairs of joints',
    severities: (rig) => [1, rig.arms[0]!.joints.length / 2, rig.arms[0]!.joints.length],
    script: 'turn',
    driver: (rig, s) => {
      const [port, starboard] = rig.arms
      return swapped(
        rig,
        port!.joints.slice(0, s).map((j, i) => [j, starboard!.joints[i]!] as const),
      )
    },
    // Arms are mirrored port to starboard: the other's setpoints swing a blade the wrong way, and the arms are stopped before either side has
    // made a stroke that could be taken for the other's.
    expected: 'sense',
    detectWithin: (rig) => rampTime(rig) + 1.5 * strokeTime(rig),
    why: 'a blade goes the wrong way in the water in the first drive: one whole stroke at most',
  },
  {
    name: 'joints swapped',
    what: "Two neighbouring joints of the port arm are given each other's setpoints.",
    unit: 'place of the first of the two, from the blade',
    severities: () => [1, 3, 5],
    script: 'ahead',
    driver: neighboursSwapped,
    expected: 'stroke',
    // The park pose is swapped as well: it differs from when the arms are led there, and no stroke is seen before they are there.
    detectWithin: (rig, s) => approachTime(rig, neighboursSwapped(rig, s).parkPose) + 1.5 * strokeTime(rig),
    why: 'the way to the park pose; then the first whole stroke shows it, which begins within half a stroke',
  },
  {
    name: 'setpoints stop',
    what: 'In mid-run setpoints do not change any more.',
    unit: 'joints',
    severities: (rig) => [1, rig.arms[0]!.joints.length, rig.joints.length],
    script: 'ahead',
    driver: (rig, s) => {
      const joints = firstJoints(rig, s)
      const held = new Float64Array(rig.joints.length)
      return handed(rig, (out, place) => {
        const late = place.k * rig.control.period > COMES_UP
        if (late) for (const j of joints) out[j] = held[j]!
        else held.set(out)
      })
    },
    expected: 'gate',
    detectWithin: fastEnough,
    why: FAST_ENOUGH,
  },
  {
    name: 'stale setpoints',
    what: 'New setpoints come only every so many periods, and the last are repeated till then.',
    unit: 'periods',
    severities: () => [2, 4, 8],
    script: 'ahead',
    driver: (rig, s) => {
      const held = new Float64Array(rig.joints.length)
      return handed(rig, (out, { k }) => {
        if (k % s === 0) held.set(out)
        else out.set(held)
      })
    },
    expected: 'gate',
    detectWithin: fastEnough,
    why: FAST_ENOUGH,
  },
  {
    name: 'setpoints repeated',
    what: 'Now and then a setpoint is handed out twice.',
    unit: 'setpoints from one repetition to the next',
    severities: () => [100, 10, 2],
    script: 'ahead',
    driver: (rig, s) => {
      const held = new Float64Array(rig.joints.length)
      return handed(rig, (out, { k }) => {
        if (k % s === s - 1) out.set(held)
        else held.set(out)
      })
    },
    expected: 'gate',
    detectWithin: (rig, s) => fastEnough(rig) + s * rig.control.period,
    why: FAST_ENOUGH,
  },
  {
    name: 'phase slips at the wrap',
    what: 'Whenever a stroke begins anew its phase leaps.',
    unit: 'strokes',
    // A blade at an arm's length of about a metre leaps by about as many metres as its joints by radians.
    severities: (rig) => {
      const leap = leastLeap(rig, 0) / rig.stroke.length / 2
      return [0.3 * leap, 3 * leap, 30 * leap]
    },
    script: 'ahead',
    driver: (rig, s) => {
      const inner = new ReferenceDriver(rig)
      const last = { port: 1, starboard: 1 }
      return new Mishandled(inner, () => {
        for (const side of ['port', 'starboard'] as const) {
          const motion = inner.sides[side]
          if (motion.phase < last[side] - 0.5) motion.phase += s
          last[side] = motion.phase
        }
      })
    },
    expected: 'gate',
    detectWithin: (rig) => 1.5 * strokeTime(rig),
    why: 'the first wrap, and one more for leaps that a limit just bears',
  },
  {
    name: 'jump at the reversal',
    what: 'When the command changes its sign the setpoints of the port shoulder leap, and stay off.',
    unit: 'rad',
    severities: (rig) => {
      const leap = leastLeap(rig, jointOf(rig, 'shoulder'))
      return [0.5 * leap, 3 * leap, 30 * leap]
    },
    script: 'there and back',
    driver: (rig, s) => {
      const joint = jointOf(rig, 'shoulder')
      const inner = new ReferenceDriver(rig)
      return {
        parkPose: inner.parkPose,
        get parked() {
          return inner.parked
        },
        begin: () => inner.begin(),
        step(command, out) {
          inner.step(command, out)
          if (command.surge < 0) out[joint] = out[joint]! + s
        },
      }
    },
    expected: 'gate',
    detectWithin: onePeriod,
    why: AT_ONCE,
  },
  {
    name: 'one joint stale',
    what: 'The setpoint of one joint never changes.',
    unit: 'place of the joint, from the blade',
    severities: () => [2, 0, 3],
    script: 'ahead',
    driver: (rig, s) => {
      const { joints } = rig.arms[0]!
      return scaled(rig, [joints[joints.length - 1 - s]!], 0)
    },
    expected: 'setpoints',
    detectWithin: (rig) => rampTime(rig) + 1.5 * strokeTime(rig),
    why: 'within one whole stroke every joint of six has to move',
  },
  {
    name: 'noise on setpoints',
    what: 'Setpoints tremble.',
    unit: "share of each joint's acceleration limit, RMS",
    severities: () => [0.03, 0.1, 0.3],
    script: 'ahead',
    driver: (rig, s, seed) => {
      const random = randomStream(seed, 'noisy driver')
      // The second difference of white noise is sqrt(1 + 4 + 1) times as strong.
      const sigma = rig.joints.map((j) => (s * leastLeap(rig, j.index)) / Math.sqrt(6))
      return handed(rig, (out) => {
        for (let j = 0; j < out.length; j++) out[j] = out[j]! + sigma[j]! * random.normal()
      })
    },
    expected: 'vibration',
    detectWithin: fourWindows,
    why: WINDOWS,
  },
  {
    name: 'coarse setpoints',
    what: 'Setpoints are rounded to steps.',
    unit: 'rad',
    severities: (rig) => [0.05 * leastLeap(rig, 0), 0.15 * leastLeap(rig, 0), 4 * leastLeap(rig, 0)],
    script: 'ahead',
    driver: (rig, s) => {
      const inner = new ReferenceDriver(rig)
      return new Mishandled(inner, (out) => {
        const { parkPose: park } = inner
        for (let j = 0; j < out.length; j++) out[j] = park[j]! + s * Math.round((out[j]! - park[j]!) / s)
      })
    },
    expected: 'vibration',
    detectWithin: fourWindows,
    why: WINDOWS,
  },
  {
    name: 'hum on setpoints',
    what: 'A line of an eighth of the control rate lies upon the setpoints.',
    unit: "share of each joint's acceleration limit, amplitude",
    severities: () => [0.03, 0.1, 0.3],
    script: 'ahead',
    driver: (rig, s) => {
      const turn = (2 * Math.PI) / 8
      const omega = turn / rig.control.period
      return handed(rig, (out, { k }) => {
        // It comes up over a second, so that no start of it is seen.
        const share = s * Math.min(1, k * rig.control.period) * Math.sin(turn * k)
        for (const { index, limits } of rig.joints)
          out[index] = out[index]! + (share * limits.acceleration) / omega ** 2
      })
    },
    expected: 'vibration',
    detectWithin: fourWindows,
    why: WINDOWS,
  },
  {
    name: 'no number once',
    what: 'Once setpoints are no number.',
    unit: 'joints',
    severities: (rig) => [1, rig.arms[0]!.joints.length, rig.joints.length],
    script: 'ahead',
    driver: (rig, s) =>
      handed(rig, (out, place) => {
        if (isDue(rig, place)) for (const j of firstJoints(rig, s)) out[j] = Number.NaN
      }),
    expected: 'gate',
    detectWithin: onePeriod,
    why: AT_ONCE,
  },
  {
    name: 'one joint late',
    what: 'The setpoint of the port swing joint is filtered, and so comes late.',
    unit: 's, time constant',
    severities: (rig) => [0.01 * strokeTime(rig), 0.04 * strokeTime(rig), 0.12 * strokeTime(rig)],
    script: 'ahead',
    driver: (rig, s) => {
      const joint = jointOf(rig, 'swing')
      const inner = new ReferenceDriver(rig)
      const share = 1 - Math.exp(-rig.control.period / s)
      let filtered = inner.parkPose[joint]!
      return new Mishandled(inner, (out, { k }) => {
        if (k === 0) filtered = inner.parkPose[joint]!
        filtered += share * (out[joint]! - filtered)
        out[joint] = filtered
      })
    },
    expected: 'stroke',
    detectWithin: (rig) => 1.5 * strokeTime(rig),
    why: 'the first whole stroke shows it; it begins within half a stroke',
  },
  {
    name: 'late by a part of the stroke',
    what: 'All setpoints come late by a part of the stroke.',
    unit: 's',
    severities: (rig) => [0.02 * strokeTime(rig), 0.1 * strokeTime(rig), 0.25 * strokeTime(rig)],
    script: 'ahead',
    driver: (rig, s) => {
      const inner = new ReferenceDriver(rig)
      const late = Math.round(s / rig.control.period)
      let waiting: Float64Array[] = []
      return new Mishandled(inner, (out, { k }) => {
        if (k === 0) waiting = Array.from({ length: late }, () => inner.parkPose.slice())
        waiting.push(out.slice())
        out.set(waiting.shift()!)
      })
    },
    expected: 'driver',
    detectWithin: (rig, s) => s + 20 * rig.control.period,
    why: 'the delay is known when it is over; twenty periods for the motion to stand out of the noise',
  },
  {
    name: 'gives up',
    what: 'In mid-run it says that a place cannot be reached.',
    unit: 's after its begin',
    severities: (rig) => [0.5 * strokeTime(rig), 2 * strokeTime(rig), 4 * strokeTime(rig)],
    script: 'ahead',
    driver: (rig, s) =>
      handed(rig, (_, { k }) => {
        if (k * rig.control.period >= s)
          throw new DrystrokeError('unreachable', 'the blade cannot get there', { arm: rig.arms[0]!.name })
      }),
    expected: 'driver',
    detectWithin: onePeriod,
    why: AT_ONCE,
  },
  {
    name: 'joint creeps to its end',
    what: 'In mid-run the port roll joint creeps away towards its upper limit.',
    unit: 'rad/s',
    severities: (rig) => {
      const { speed } = rig.joints[jointOf(rig, 'roll')]!.limits
      return [0.05 * speed, 0.1 * speed, 0.3 * speed]
    },
    script: 'ahead',
    driver: (rig, s) => {
      const joint = jointOf(rig, 'roll')
      return handed(rig, (out, { k }) => {
        const gone = Math.max(0, k * rig.control.period - COMES_UP)
        // It gets under way within half a second.
        out[joint] = out[joint]! + s * (gone < 0.5 ? gone ** 2 : gone - 0.25)
      })
    },
    // On these arms the hull is nearer than the end of the joint: the blade that turns with it is stopped there, before `limits` sees anything.
    expected: 'clearance',
    detectWithin: (rig, s) => {
      const { lower, upper } = rig.joints[jointOf(rig, 'roll')]!.limits
      return 0.5 + (0.9 * (upper - lower)) / 2 / s
    },
    why: 'the time from the middle of its range to nine tenths of it, by which the blade has long been at the hull',
  },
]
