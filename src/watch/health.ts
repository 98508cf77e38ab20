/**
 * What drives report of themselves where the rig says that they do: how hot they are, how their supply holds, what current they take.
 *
 * Temperature: absolute limits. Voltage: against what it was at rest, the least that this drive told before the arms were moved, so that neither the state of a
 * battery nor a drive's own calibration matters; sag and rise as shares of it. A drive that is starved resets, and its joint is let go
 * of; one whose link rises, because motors give back what they brake, switches off. What is beyond a limit in one report alone is a
 * disturbance; two in a row count. Torques are the load watch's matter.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Finding } from '../files/event.js'
import type { Reported } from '../files/rig.js'
import { Alarm, type Level } from './alarm.js'
import type { WatchSettings } from './settings.js'
import { isOperation } from './tracking.js'
import type { Observation, Watch, WatchContext } from './watch.js'

type Words = Pick<Finding, 'quantity' | 'unit' | 'says' | 'why' | 'look'>

const HOT: Words = {
  quantity: 'temperature',
  unit: 'degC',
  says: 'The drive is hot.',
  why: 'A drive that overheats switches off and lets its joint go; insulation that was hot once fails later.',
  look: 'Look at the load of this joint, at a brake or bearing that drags, and at its cooling.',
}
const SAG: Words = {
  quantity: 'supply sag',
  unit: 'share',
  says: 'The supply of this drive has fallen below what it was at rest.',
  why: 'Below its least voltage a drive resets, loses its set-up, and lets its joint go.',
  look: 'Look at the charge of the battery, at fuses, plugs and the cross-section of the wiring.',
}
const RISE: Words = {
  quantity: 'supply rise',
  unit: 'share',
  says: 'The supply of this drive has risen above what it was at rest.',
  why: 'Motors that brake give power back; a link that rises too far switches its drive off, or breaks it.',
  look: 'Look whether the battery can take power back, at its charge, and for a braking resistor.',
}

interface Health {
  /** V, least told at rest; NaN: none yet */
  rest: number
  hottest: number
  lowest: number
  highest: number
  /** A */
  squared: number
  currents: number
  mostCurrent: number
  /** Whether anything was told since the drive was enabled. */
  heard: boolean
}

/** Of one condition, by joint: a level counts when two reports in a row have it. */
class Twice {
  readonly alarm: Alarm
  readonly #before: Uint8Array

  constructor(places: number) {
    this.alarm = new Alarm(places)
    this.#before = new Uint8Array(places)
  }

  rises(place: number, level: Level, t: Nanos): Level | null {
    const both = Math.min(level, this.#before[place]!) as Level
    this.#before[place] = level
    return this.alarm.rises(place, both, t) ? both : null
  }
}

export class HealthWatch implements Watch {
  readonly kinds = ['report', 'stage'] as const
  /** The rig says that drives report something. */
  readonly seen: boolean
  readonly #c: WatchContext<WatchSettings['health']>
  readonly #joints: readonly Health[]
  /** By joint: what its drive reports. */
  readonly #reports: readonly (readonly Reported[])[]
  readonly #hot: Twice
  readonly #sag: Twice
  readonly #rise: Twice
  #moved = false
  #t: Nanos = 0

  constructor(context: WatchContext<WatchSettings['health']>) {
    this.#c = context
    const { rig } = context
    this.#reports = rig.joints.map(({ wire }) =>
      wire.protocol === 'frames'
        ? wire.map.feedback.signals.flatMap(({ is }) =>
            is === 'temperature' || is === 'voltage' || is === 'current' ? [is] : [],
          )
        : (rig.buses[wire.bus]!.reports?.objects ?? []).map(({ what }) => what),
    )
    this.seen = this.#reports.some((what) => what.length > 0)
    this.#joints = rig.joints.map(() => ({
      rest: Number.NaN,
      hottest: Number.NEGATIVE_INFINITY,
      lowest: Number.POSITIVE_INFINITY,
      highest: 0,
      squared: 0,
      currents: 0,
      mostCurrent: 0,
      heard: false,
    }))
    const n = rig.joints.length
    this.#hot = new Twice(n)
    this.#sag = new Twice(n)
    this.#rise = new Twice(n)
  }

  see(o: Observation): void {
    if (o.kind === 'stage') this.#moved ||= isOperation(o.stage)
    else if (o.kind === 'report') {
      this.#t = o.t
      const joint = this.#joints[o.joint]!
      joint.heard = true
      if (o.what === 'temperature') this.#temperature(o.joint, o.value, o.t)
      else if (o.what === 'voltage') this.#voltage(o.joint, o.value, o.t)
      else {
        joint.squared += o.value * o.value
        joint.currents++
        joint.mostCurrent = Math.max(joint.mostCurrent, Math.abs(o.value))
      }
    }
  }

  close(): void {
    if (!this.#moved) return
    this.#joints.forEach(({ heard }, j) => {
      if (heard || this.#reports[j]!.length === 0) return
      this.#tell(j, 'doubt', 1, 0, {
        quantity: 'reports',
        unit: 'none',
        says: `The drive told nothing of its ${this.#reports[j]!.join(', ')}, which the rig says that it reports.`,
        why: 'Nobody has watched how hot this drive is or how its supply holds.',
        look: "Look at the set-up of its TPDO2, and at the rig's section reports.",
      })
    })
  }

  figures(): Figure[] {
    const { temperature, voltage } = this.#c.settings
    return this.#c.rig.joints.flatMap(({ name: place, index: j }): Figure[] => {
      const { rest, hottest, lowest, highest, squared, currents, mostCurrent } = this.#joints[j]!
      const rows: Figure[] = []
      if (hottest > Number.NEGATIVE_INFINITY)
        rows.push({
          place,
          name: 'temperature, highest',
          value: hottest,
          unit: 'degC',
          limit: temperature.limit,
        })
      if (highest > 0 && !Number.isNaN(rest))
        rows.push(
          { place, name: 'supply at rest', value: rest, unit: 'V', limit: null },
          { place, name: 'supply, lowest', value: lowest, unit: 'V', limit: rest * (1 - voltage.sag.limit) },
          {
            place,
            name: 'supply, highest',
            value: highest,
            unit: 'V',
            limit: rest * (1 + voltage.rise.limit),
          },
        )
      if (currents > 0)
        rows.push(
          { place, name: 'current, RMS', value: Math.sqrt(squared / currents), unit: 'A', limit: null },
          { place, name: 'current, greatest', value: mostCurrent, unit: 'A', limit: null },
        )
      return rows
    })
  }

  #temperature(j: number, value: number, t: Nanos): void {
    const { warning, limit } = this.#c.settings.temperature
    const joint = this.#joints[j]!
    joint.hottest = Math.max(joint.hottest, value)
    const level = this.#hot.rises(j, value > limit ? 2 : value > warning ? 1 : 0, t)
    if (level !== null) this.#tellLevel(j, level, value, { warning, limit }, HOT)
  }

  #voltage(j: number, value: number, t: Nanos): void {
    const joint = this.#joints[j]!
    if (!this.#moved) joint.rest = Number.isNaN(joint.rest) ? value : Math.min(joint.rest, value)
    joint.lowest = Math.min(joint.lowest, value)
    joint.highest = Math.max(joint.highest, value)
    const { sag, rise } = this.#c.settings.voltage
    const off = value / joint.rest - 1
    const low = this.#sag.rises(j, -off > sag.limit ? 2 : -off > sag.warning ? 1 : 0, t)
    if (low !== null) this.#tellLevel(j, low, -off, sag, SAG)
    const high = this.#rise.rises(j, off > rise.limit ? 2 : off > rise.warning ? 1 : 0, t)
    if (high !== null) this.#tellLevel(j, high, off, rise, RISE)
  }

  #tellLevel(
    j: number,
    level: Level,
    value: number,
    { warning, limit }: { readonly warning: number; readonly limit: number },
    words: Words,
  ): void {
    this.#tell(j, level === 2 ? 'failure' : 'warning', value, level === 2 ? limit : warning, words)
  }

  #tell(j: number, severity: Finding['severity'], value: number, limit: number, words: Words): void {
    const { rig } = this.#c
    const stop = severity === 'failure' ? rig.stop.category : null
    this.#c.report({ ...words, severity, place: rig.joints[j]!.name, t: this.#t, value, limit, stop })
  }
}
