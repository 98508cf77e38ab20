/** The second transmit PDO of a drive: objects that a rig names. */
import type { DriveReports, ReportedObject } from '../../files/rig.js'
import type { ObjectEntry } from './objects.js'

export function reportEntry({ index, sub, bytes, signed }: ReportedObject): ObjectEntry {
  return { index, sub, bytes, signed }
}

/** Length of its frame. */
export function reportBytes({ objects }: DriveReports): number {
  return objects.reduce((sum, { bytes }) => sum + bytes, 0)
}
