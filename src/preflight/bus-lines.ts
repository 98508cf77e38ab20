/** Do the buses keep up? */
import type { BusTimes, MessageTime } from '../bus/bus-times.js'
import type { Rig } from '../files/rig.js'
import { showQuantity } from '../units.js'
import type { WatchSettings } from '../watch/settings.js'
import { type Line, levelOfShare } from './line.js'

/** Share of its period from which on a message is told to be late: a real bus repeats disturbed frames (common practice, no source). */
const LATE = 0.8

export function busLines(rig: Rig<WatchSettings>, buses: readonly BusTimes[]): Line[] {
  return [...buses.flatMap((bus) => [loadLine(rig, bus), ...responseLines(bus)]), ...processorLines(rig)]
}

function loadLine(rig: Rig<WatchSettings>, { bus, load }: BusTimes): Line {
  const { warning, limit } = rig.watch.bus.load
  const says = `${showQuantity(load, 'share')} of what it carries, at most ${showQuantity(limit, 'share')}`
  const level = levelOfShare(load / limit, warning / limit)
  return {
    check: 'bus load',
    level,
    place: bus,
    scenarios: null,
    phase: null,
    value: load,
    limit,
    unit: 'share',
    says,
  }
}

/** The message that is the latest, measured by its period. */
function responseLines({ bus, messages }: BusTimes): Line[] {
  if (messages.length === 0) return []
  const share = (m: MessageTime): number => m.worst / m.deadline
  const latest = messages.reduce((most, m) => (share(m) > share(most) ? m : most))
  const { worst, deadline } = latest
  const of = `at worst for the ${nameOf(latest)}, which comes every ${showQuantity(deadline, 's')}`
  const says = Number.isFinite(worst) ? `${showQuantity(worst, 's')} ${of}` : `no bound ${of}`
  const level = levelOfShare(share(latest), LATE)
  return [
    {
      check: 'response time',
      level,
      place: bus,
      scenarios: null,
      phase: null,
      value: worst,
      limit: deadline,
      unit: 's',
      says,
    },
  ]
}

/** `setpoint of port.elbow`; the harness's own heartbeat has no joint */
function nameOf({ use, joint }: Pick<MessageTime, 'use' | 'joint'>): string {
  if (joint !== null) return `${use} of ${joint}`
  return use === 'heartbeat' ? "harness's heartbeat" : use
}

/** Bytes from a serial port go through a worker of the kernel that may wait behind the loop's own threads: README, Real time. */
function processorLines({ buses, realtime }: Rig): Line[] {
  const serial = buses.filter(({ address }) => address.kind === 'slcan' && 'device' in address)
  if (serial.length === 0) return []
  const { processor } = realtime
  const says =
    processor === null
      ? 'a bus on a serial port, and no realtime.processor: what comes in may wait 20 ms behind the loop; see Real time in the README'
      : `the loop keeps to processor ${processor}`
  return [
    {
      check: 'processor',
      level: processor === null ? 'warn' : 'pass',
      place: serial.map(({ name }) => name).join(', '),
      scenarios: null,
      phase: null,
      value: serial.length,
      limit: null,
      unit: 'count',
      says,
    },
  ]
}
