/**
 * What is written to a drive before it may be enabled, and read back: a mismatch refuses the run.
 * PDOs are taken out of service, mapped anew and put back, as CiA 301 (7.5.2.36) wants it.
 */
import { DrystrokeError } from '../errors.js'
import type { Cia402Joint, Rig } from '../files/rig.js'
import { consumerHeartbeat, OUR_NODE } from '../wire/cia402/network.js'
import {
  AT_ONCE,
  COB,
  EVERY_SYNC,
  MODE_CSP,
  mappingWord,
  OBJECT,
  type ObjectEntry,
  PDO_INVALID,
  pdoObjects,
} from '../wire/cia402/objects.js'
import { reportEntry } from '../wire/cia402/reports.js'

/** One entry to write; `confirmedBy` is read back instead where an object cannot be read as written. */
export interface SetupEntry {
  readonly object: ObjectEntry
  readonly value: number
  readonly says: string
  readonly confirmedBy?: ObjectEntry
}

/** 605Ah = 2: quick stop ramp, then switch on disabled, so that no late setpoint or enable can take a stop back. */
const QUICK_STOP_THEN_DISABLED = 2
/** 605Eh = 2: a fault is answered by the quick stop ramp. */
const FAULT_QUICK_STOP = 2
/** 6007h = 3: loss of communication is answered by a quick stop. */
const LOST_QUICK_STOP = 3
/** 1029h:1 = 0: on loss of communication the node itself goes to pre-operational. */
const LOST_PRE_OPERATIONAL = 0

/** COB-ID of the controlword RPDO that a joint's drive listens to. */
export function controlwordId(rig: Rig, joint: Cia402Joint): number {
  return rig.buses[joint.wire.bus]!.controlword ?? COB.controlword + joint.wire.node
}

/**
 * @returns entries in the order of writing
 * @throws DrystrokeError `file-invalid` if 60C2h cannot hold the control period
 */
export function setupEntries(rig: Rig, joint: Cia402Joint): SetupEntry[] {
  const { link, control } = rig
  const { node, countsPerRadian, ratedTorque } = joint.wire
  const ms = (s: number): number => Math.round(s * 1000)
  const { reports } = rig.buses[joint.wire.bus]!
  const period = interpolationPeriod(control.period)
  const torque = Math.round((1000 * link.torqueShare * joint.limits.torque) / ratedTorque)
  return [
    { object: OBJECT.producerHeartbeat, value: ms(link.driveHeartbeat), says: 'its own heartbeat, ms' },
    {
      object: OBJECT.consumerHeartbeat,
      value: consumerHeartbeat(OUR_NODE, ms(link.heartbeatTimeout)),
      says: 'time-out of our heartbeat',
    },
    {
      object: OBJECT.errorBehaviour,
      value: LOST_PRE_OPERATIONAL,
      says: 'node state on loss of communication',
    },
    { object: OBJECT.abortConnection, value: LOST_QUICK_STOP, says: 'reaction to loss of communication' },
    { object: OBJECT.quickStopOption, value: QUICK_STOP_THEN_DISABLED, says: 'quick stop option' },
    { object: OBJECT.faultReactionOption, value: FAULT_QUICK_STOP, says: 'fault reaction option' },
    {
      object: OBJECT.quickStopDeceleration,
      value: Math.round(link.quickStop * countsPerRadian),
      says: 'quick stop deceleration, counts/s2',
    },
    {
      object: OBJECT.followingWindow,
      value: Math.round(link.window * countsPerRadian),
      says: 'following error window, counts',
    },
    { object: OBJECT.followingTimeout, value: ms(link.windowTimeout), says: 'following error time-out, ms' },
    { object: OBJECT.maxTorque, value: torque, says: 'greatest torque, thousandths of the rated' },
    { object: OBJECT.mode, value: MODE_CSP, says: 'mode of operation', confirmedBy: OBJECT.modeDisplay },
    { object: OBJECT.periodValue, value: period.value, says: 'interpolation period' },
    { object: OBJECT.periodExponent, value: period.exponent, says: 'exponent of the interpolation period' },
    ...pdo('receive', 1, COB.setpoint + node, EVERY_SYNC, [OBJECT.targetPosition]),
    ...pdo('receive', 2, controlwordId(rig, joint), AT_ONCE, [OBJECT.controlword]),
    ...pdo('transmit', 1, COB.feedback + node, EVERY_SYNC, [
      OBJECT.statusword,
      OBJECT.actualPosition,
      OBJECT.actualTorque,
    ]),
    ...(reports === null
      ? []
      : pdo('transmit', 2, COB.reports + node, reports.every, reports.objects.map(reportEntry))),
  ]
}

function pdo(
  direction: 'receive' | 'transmit',
  n: number,
  id: number,
  type: number,
  mapped: readonly ObjectEntry[],
): SetupEntry[] {
  const o = pdoObjects(direction, n)
  const name = `${direction} PDO ${n}`
  return [
    { object: o.cobId, value: (PDO_INVALID | id) >>> 0, says: `${name}, out of service` },
    { object: o.type, value: type, says: `${name}, transmission type` },
    { object: o.count, value: 0, says: `${name}, mapping cleared` },
    ...mapped.map((m, i) => ({
      object: o.map(i + 1),
      value: mappingWord(m),
      says: `${name}, mapping ${i + 1}`,
    })),
    { object: o.count, value: mapped.length, says: `${name}, number of mapped objects` },
    { object: o.cobId, value: id, says: `${name}, identifier` },
  ]
}

/** 60C2h: period = value x 10^exponent s, value in one byte. */
function interpolationPeriod(period: number): { value: number; exponent: number } {
  for (const exponent of [-3, -4, -5]) {
    const value = period / 10 ** exponent
    if (Math.abs(value - Math.round(value)) < 1e-6 && value >= 1 && value <= 255) {
      return { value: Math.round(value), exponent }
    }
  }
  throw new DrystrokeError(
    'file-invalid',
    `control.rate: a period of ${period} s does not fit object 60C2h (1 to 255 times a power of ten); use for example "200 Hz"`,
  )
}
