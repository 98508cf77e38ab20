/** Drivers whose stroke is not the one that the rig asks for. */
import { ReferenceDriver } from '../../../src/driver/reference.js'
import type { Rig, StrokeSettings } from '../../../src/files/rig.js'
import { type DriverEntry, strokeTime } from '../driver-entry.js'
import { bySides, jointOf, Mishandled, Misheard } from './around.js'

/** The driver works with another stroke than stands in the rig. */
function withStroke(rig: Rig, stroke: Partial<StrokeSettings>): ReferenceDriver {
  return new ReferenceDriver({ ...rig, stroke: { ...rig.stroke, ...stroke } })
}

/** s: the first stroke is whole, and that it is off has been seen once. */
const firstStroke = (rig: Rig): number => 1.5 * strokeTime(rig)
const FIRST = 'the first whole stroke shows it; it begins within half a stroke'

export const STROKE_ENTRIES: readonly DriverEntry[] = [
  {
    name: 'stroke too short',
    what: 'Its strokes are shorter than the rig asks for.',
    unit: 'share that the length lacks',
    severities: () => [0.05, 0.2, 0.4],
    script: 'ahead',
    driver: (rig, s) => withStroke(rig, { length: (1 - s) * rig.stroke.length }),
    expected: 'stroke',
    detectWithin: firstStroke,
    why: FIRST,
  },
  {
    name: 'immersed too deep',
    what: 'Its blades go deeper than the rig asks for.',
    unit: 'm',
    severities: (rig) => {
      const { length } = rig.arms[0]!.paddle
      return [0.1 * length, 0.25 * length, 0.6 * length]
    },
    script: 'ahead',
    driver: (rig, s) => withStroke(rig, { immersion: rig.stroke.immersion + s }),
    expected: 'stroke',
    detectWithin: firstStroke,
    why: FIRST,
  },
  {
    name: 'recovery too low',
    what: 'On the recovery its blades are nearer to the water than the rig asks for, or in it.',
    unit: 'm by which they are lower',
    severities: (rig) => {
      const { clearance } = rig.stroke
      return [0.5 * clearance, 1.2 * clearance, 2 * clearance]
    },
    script: 'ahead',
    // It takes the water to be lower than it is, and goes as deep all the same.
    driver: (rig, s) =>
      new ReferenceDriver({
        ...rig,
        craft: { ...rig.craft, waterline: rig.craft.waterline + s },
        stroke: { ...rig.stroke, immersion: rig.stroke.immersion - s },
      }),
    expected: 'stroke',
    detectWithin: firstStroke,
    why: FIRST,
  },
  {
    name: 'feather sign',
    what: 'On the recovery its blades are turned the other way.',
    unit: 'times the turn that the rig asks for',
    severities: () => [-0.5, -1, -1.5],
    script: 'ahead',
    driver: (rig, s) => withStroke(rig, { feather: s * rig.stroke.feather }),
    expected: 'stroke',
    detectWithin: firstStroke,
    why: FIRST,
  },
  {
    name: 'blade not square',
    what: 'In the drive its port blade is turned about its shaft.',
    unit: 'rad',
    severities: (rig) => {
      const { feather } = rig.stroke
      return [0.05 * feather, 0.2 * feather, 0.6 * feather]
    },
    script: 'ahead',
    driver: (rig, s) => {
      const joint = jointOf(rig, 'feather')
      const turned = (out: Float64Array): void => {
        out[joint] = out[joint]! + s
      }
      return new Mishandled(new ReferenceDriver(rig), turned, true)
    },
    expected: 'stroke',
    detectWithin: firstStroke,
    why: FIRST,
  },
  {
    name: 'zero of a joint off',
    what: 'It works with another zero of the port shoulder than the arm has.',
    unit: 'rad',
    // A blade at half the arm's reach of about a metre is off by about as many metres.
    severities: (rig) => {
      const { immersion } = rig.stroke
      return [0.2 * immersion, 0.7 * immersion, 1.5 * immersion]
    },
    script: 'ahead',
    driver: (rig, s) => {
      const joint = jointOf(rig, 'shoulder')
      const shifted = (out: Float64Array): void => {
        out[joint] = out[joint]! + s
      }
      return new Mishandled(new ReferenceDriver(rig), shifted, true)
    },
    expected: 'stroke',
    detectWithin: firstStroke,
    why: FIRST,
  },
  {
    name: 'blade line inboard',
    what: 'Its blades run nearer to the hull than half the track.',
    unit: 'm',
    severities: (rig) => {
      const gap = (rig.craft.track - (rig.hull?.beam ?? rig.craft.track / 2)) / 2
      return [0.4 * gap, 0.7 * gap, 0.85 * gap]
    },
    script: 'straight',
    driver: (rig, s) =>
      new ReferenceDriver({ ...rig, craft: { ...rig.craft, track: rig.craft.track - 2 * s } }),
    expected: 'clearance',
    detectWithin: firstStroke,
    why: 'each stroke comes to its narrowest place once; the way to the park place comes before',
  },
  {
    name: 'ignores the speed cap',
    what: 'It moves the joints as fast as if the rig set no speed cap.',
    unit: 'speed cap of the rig, share of the speed limits',
    severities: () => [0.7, 0.5, 0.3],
    script: 'straight',
    rig: (rig, s) => ({ stroke: rig.stroke, motion: { ...rig.motion, speedCap: s } }),
    driver: (rig) => new ReferenceDriver({ ...rig, motion: { ...rig.motion, speedCap: 1 } }),
    expected: 'gate',
    detectWithin: (rig) => strokeTime(rig),
    why: 'every joint comes to its greatest speed once a stroke',
  },
  {
    name: 'sides drift apart',
    what: 'The sides should stroke together, and the port side goes a little faster.',
    unit: 'share by which it is faster',
    severities: () => [0.01, 0.04, 0.1],
    script: 'straight',
    rig: (rig) => ({ motion: rig.motion, stroke: { ...rig.stroke, sides: 'together' } }),
    driver: (rig, s) => {
      const free: Rig = { ...rig, stroke: { ...rig.stroke, sides: 'free' } }
      const faster = bySides(rig, (port, starboard) => [(1 + s) * port, starboard])
      return new Misheard(new ReferenceDriver(free), faster)
    },
    expected: 'sides',
    // A tenth of a stroke apart, seen at the end of the stroke in which that comes about.
    detectWithin: (rig, s) => strokeTime(rig) * (0.1 / s + 1.5),
    why: 'the time in which the sides come a tenth of a stroke apart, and the stroke in which that is seen',
  },
  {
    name: 'out of step',
    what: 'The sides should stroke together, and port is behind from the start.',
    unit: 'strokes by which it is behind',
    severities: () => [0.05, 0.2, 0.5],
    script: 'straight',
    rig: (rig) => ({ motion: rig.motion, stroke: { ...rig.stroke, sides: 'together' } }),
    driver: (rig, s) => {
      const inner = new ReferenceDriver({ ...rig, stroke: { ...rig.stroke, sides: 'free' } })
      const late = Math.round((s * strokeTime(rig)) / rig.control.period)
      const waiting: number[] = Array.from({ length: late }, () => 0)
      return new Misheard(
        inner,
        bySides(rig, (port, starboard) => {
          waiting.push(port)
          return [waiting.shift()!, starboard]
        }),
      )
    },
    expected: 'sides',
    detectWithin: (rig) => 2.5 * strokeTime(rig),
    why: 'two strokes of each side, to be compared',
  },
]
