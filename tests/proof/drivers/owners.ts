/** Drivers that own the buses, and do there what they should not: while the arms move, and after a stop. */
import type { Beat, OwnerEntry } from '../driver-entry.js'
import type { ProofRig } from '../rigs.js'
import { FAULT_AT } from '../scripts.js'

/** CiA 301, 7.2.4.3: what begins an expedited download of two bytes, and the identifier of a node's SDO requests. */
const [WRITE, REQUEST] = [0x2b, 0x600]
/** CiA 402: quick stop option code, which a stop hangs on; max torque, which it does not. */
const [QUICK_STOP_OPTION, MAX_TORQUE] = [0x605a, 0x6072]
/** CiA 402: the controlword of operation enabled. */
const ENABLE = [0x0f, 0]

/** The driver hears of a stop a little later than it goes out, and beats in its own time: one period each, and the tick that tells. */
const heard = (rig: ProofRig): number => 3 * rig.control.period

/** s since the wrong came up in the play; negative: not yet */
const since = ({ played }: Beat): number => (played ?? Number.NEGATIVE_INFINITY) - FAULT_AT

const uint16 = (value: number): [number, number] => [value & 0xff, value >> 8]

/** Writes once to the first `count` drives, while the arms move. */
function writing(index: number, value: number): OwnerEntry['wrong'] {
  return (rig, count) => {
    let written = false
    return (driver, beat) => {
      if (written || since(beat) < 0) return written
      written = true
      for (const { wire } of rig.joints.slice(0, count))
        driver.say(wire.bus, REQUEST + wire.node, [WRITE, ...uint16(index), 0, ...uint16(value), 0, 0])
      return true
    }
  }
}

/** Enables its drives again as soon as they have lost their torque, for so many s after the stop. */
const enablesAgain: OwnerEntry['wrong'] =
  (_, s) =>
  (driver, { stopped }) => {
    driver.faults.enablesAgain = stopped !== null && stopped < s
    return stopped !== null
  }

/** Sends so many frames on the identifier of the stop, one a period from when it is due. */
function onStopIdentifier(due: (beat: Beat) => boolean): OwnerEntry['wrong'] {
  return (rig, frames) => {
    const { controlword } = rig.buses[0]!
    if (controlword === null) throw new Error('the rig has no identifier for the stop')
    let sent = 0
    return (driver, beat) => {
      if (!due(beat) || sent >= frames) return sent > 0
      sent++
      driver.say(0, controlword, ENABLE)
      return true
    }
  }
}

const drives = (rig: ProofRig): [number, number, number] => [1, rig.arms[0]!.joints.length, rig.joints.length]
const silent = (rig: ProofRig): [number, number, number] => {
  const borne = rig.watch.owner.sync * rig.control.period
  return [1.5 * borne, 4 * borne, Number.POSITIVE_INFINITY]
}
const untilSilent = (rig: ProofRig): number => rig.watch.owner.sync * rig.control.period + heard(rig)
const untilOff = (rig: ProofRig): number => rig.stop.timeout + heard(rig)
const trying = (rig: ProofRig): [number, number, number] => [
  1.5 * rig.stop.timeout,
  3 * rig.stop.timeout,
  Number.POSITIVE_INFINITY,
]

export const OWNER_ENTRIES: readonly OwnerEntry[] = [
  {
    name: 'sends on after a stop',
    what: 'It goes on with its strokes when it is told to stop.',
    unit: 's for which it does so',
    severities: ({ watch }) => [1.5 * watch.owner.obey, 5 * watch.owner.obey, Number.POSITIVE_INFINITY],
    script: 'stopped',
    wrong:
      (_, s) =>
      (driver, { stopped }) => {
        driver.faults.ignoresStop = stopped !== null && stopped < s
        return stopped !== null
      },
    expected: 'owner',
    detectWithin: (rig) => rig.watch.owner.obey + heard(rig),
    why: 'the first setpoint after the time for what was under way is told',
  },
  {
    name: 'enables again after a stop',
    what: 'It enables its drives again as soon as they have lost their torque.',
    unit: 's for which it tries',
    severities: trying,
    script: 'stopped',
    wrong: enablesAgain,
    expected: 'owner',
    detectWithin: untilOff,
    why: 'at the latest at the time-out of the stop the drives lose their torque, and the first command after it is told',
  },
  {
    name: 'enables again, elsewhere',
    what: 'The same, in a process that is not one of the harness and cannot be ended.',
    unit: 's for which it tries',
    severities: trying,
    script: 'stopped',
    elsewhere: true,
    wrong: enablesAgain,
    expected: 'owner',
    detectWithin: untilOff,
    why: 'the same; and each drive that has torque again is told, and stopped again',
  },
  {
    name: 'identifier of the stop, after it',
    what: 'After a stop it sends the word of operation enabled on the identifier that only the harness may send on.',
    unit: 'frames, one a period',
    severities: () => [1, 10, 200],
    script: 'stopped',
    wrong: onStopIdentifier(({ stopped }) => stopped !== null),
    expected: 'owner',
    detectWithin: heard,
    why: 'the first such frame is told as it comes',
  },
  {
    name: 'identifier of the stop, in motion',
    what: 'The same, while the arms move.',
    unit: 'frames, one a period',
    severities: () => [1, 10, 200],
    script: 'ahead',
    wrong: onStopIdentifier((beat) => since(beat) >= 0),
    expected: 'bus',
    detectWithin: heard,
    why: 'the first frame of a second sender stops the run',
  },
  {
    name: 'SYNC ceases',
    what: 'Its SYNC does not come any more, on all buses; its setpoints do.',
    unit: 's without it',
    severities: silent,
    script: 'ahead',
    wrong: (_, s) => (driver, beat) => {
      driver.faults.noSync = since(beat) >= 0 && since(beat) < s
      return since(beat) >= 0
    },
    expected: 'owner',
    detectWithin: untilSilent,
    why: 'it is missed once it is older than the watch bears, and that is seen at the next tick',
  },
  {
    name: 'stands still',
    what: 'It does nothing any more, and unless it is ended it goes on.',
    unit: 's for which it stands',
    severities: silent,
    script: 'ahead',
    wrong: (_, s) => {
      let froze: number | null = null
      return (driver, beat) => {
        if (froze === null && since(beat) >= 0) froze = driver.now
        if (froze === null) return false
        driver.frozen = driver.now - froze < s * 1e9
        return true
      }
    },
    expected: 'owner',
    detectWithin: untilSilent,
    why: 'its SYNC is missed once it is older than the watch bears, and that is seen at the next tick',
  },
  {
    name: 'sets up how drives stop, in motion',
    what: 'While the arms move it writes to the quick stop option code of its drives.',
    unit: 'drives',
    severities: drives,
    script: 'ahead',
    // 1: on the slow down ramp, then switch on disabled.
    wrong: writing(QUICK_STOP_OPTION, 1),
    expected: 'owner',
    detectWithin: heard,
    why: 'the first write is told as it comes',
  },
  {
    name: 'sets drives up in motion',
    what: 'While the arms move it writes to the torque limit of its drives.',
    unit: 'drives',
    severities: drives,
    script: 'ahead',
    // Per mille of the rated torque.
    wrong: writing(MAX_TORQUE, 1000),
    expected: 'owner',
    detectWithin: heard,
    why: 'the first write is told as it comes: a warning, for no stop hangs on it',
  },
]
