/** What a real-time run takes from the machine: time, buses, a guardian, a priority, who wanted a stop before. */
import { openBus } from '../../bus/open.js'
import { openModemLines } from '../../bus/serial.js'
import { RealTime } from '../../clock.js'
import { openDriver } from '../../driver/link/open.js'
import { startGuardian } from '../../stop/guardian/start.js'
import { markedSince } from '../../stop/mark.js'
import type { Openers } from './open-all.js'
import { askForFifo, keepToProcessor, processorsNow, type Scheduling, schedulingNow } from './scheduling.js'
import { settle, warmUp } from './warm-up.js'

export type RunTime = Pick<RealTime, 'now' | 'at' | 'stop' | 'base'>

export interface Outside extends Openers, Scheduling {
  /** Time that begins now. */
  readonly time: () => RunTime
  readonly startGuardian: typeof startGuardian
  readonly markedSince: typeof markedSince
  readonly warmUp: typeof warmUp
  readonly settle: typeof settle
  readonly openDriver: typeof openDriver
}

export const MACHINE: Outside = {
  time: () => new RealTime(),
  openBus,
  openModemLines,
  startGuardian,
  askForFifo,
  schedulingNow,
  keepToProcessor,
  processorsNow,
  markedSince,
  warmUp,
  settle,
  openDriver,
}
