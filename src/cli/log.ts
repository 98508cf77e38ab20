/** The log: JSON lines on standard error, so that standard output stays the result. */
import { type Logger, pino } from 'pino'

export function openLog(level: string): Logger {
  return pino({ level, base: null }, pino.destination({ fd: 2, sync: true }))
}
