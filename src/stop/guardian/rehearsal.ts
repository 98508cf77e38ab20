/** A stop on buses that lead nowhere, before the guardian is ready: what it runs later has run before, and is loaded and compiled. */
import { nanos } from '../../clock.js'
import type { Rig } from '../../files/rig.js'
import { Halt } from '../halt.js'
import { nowhere } from '../nowhere.js'

/** Ticks; any stop is over before. */
const MOST = 100_000

export function rehearse(rig: Rig): void {
  const halt = new Halt(
    rig,
    rig.buses.map(({ name }) => nowhere(name, 'sent')),
    { feed: true },
  )
  const period = nanos(rig.control.period)
  halt.begin(0)
  for (let k = 1; k < MOST && halt.stage !== 'over'; k++) halt.tick(k * period)
  halt.drives(MOST * period)
}
