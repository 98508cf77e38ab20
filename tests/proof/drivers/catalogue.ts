/** All broken drivers: small variations of the reference driver, each with what it must be caught by, and by when. */
import type { DriverEntry } from '../driver-entry.js'
import { AFTER_STOP_ENTRIES } from './after-stop.js'
import { COMMAND_ENTRIES } from './commands.js'
import { SETPOINT_ENTRIES } from './setpoints.js'
import { STROKE_ENTRIES } from './strokes.js'

export const DRIVERS: readonly DriverEntry[] = [
  ...COMMAND_ENTRIES,
  ...STROKE_ENTRIES,
  ...SETPOINT_ENTRIES,
  ...AFTER_STOP_ENTRIES,
]
