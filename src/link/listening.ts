/**
 * What leaves on a bus that the driver owns: stops, on the identifier of the stop PDO that only the harness sends on, and the
 * harness's own heartbeat. Nothing else, whoever asks: a second sender of SYNC, NMT, SDO requests or setpoints would make the
 * drives obey whoever spoke last.
 */
import type { BusSettings } from '../files/rig.js'
import { OUR_NODE } from '../wire/cia402/network.js'
import { COB } from '../wire/cia402/objects.js'
import { uint16 } from '../wire/cia402/process.js'
import { driveCommand } from '../wire/cia402/state.js'
import type { Frame } from '../wire/frame.js'
import type { DriveCommand } from '../wire/observation.js'

/** The two commands of a stop: they take power away and never give it. */
export const isStopCommand = (command: DriveCommand | undefined): boolean =>
  command === 'quick stop' || command === 'disable voltage'

/** @returns whether a harness that only listens may send this frame on that bus */
export function leavesWhileListening({ controlword }: BusSettings, frame: Frame): boolean {
  const { id, data, extended, remote } = frame
  if (extended || remote) return false
  if (id === COB.heartbeat + OUR_NODE) return data.length === 1
  return id === controlword && data.length === 2 && isStopCommand(driveCommand(uint16(data, 0)))
}
