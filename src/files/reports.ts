/** What drives report of themselves besides their feedback, resolved. */

/** Temperature (degC) of the hottest place that has a sensor, voltage (V) of the DC link, current (A) of the motor. */
export const REPORTED = ['temperature', 'voltage', 'current'] as const
export type Reported = (typeof REPORTED)[number]

/** A second process data object of each drive. */
export interface DriveReports {
  /** SYNCs from one to the next */
  readonly every: number
  /** In the order in which they stand in the frame. */
  readonly objects: readonly ReportedObject[]
}

/** Quantity = scale x number + offset. */
export interface ReportedObject {
  readonly what: Reported
  readonly index: number
  readonly sub: number
  readonly bytes: 1 | 2 | 4
  readonly signed: boolean
  readonly scale: number
  readonly offset: number
}
