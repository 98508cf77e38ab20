/** A stop on buses that lead nowhere, before the guardian is ready: what it runs later has run before, and is loaded and compiled. */
import type { Bus } from '../../bus/contract.js'
import { nanos } from '../../clock.js'
import type { Rig } from '../../files/rig.js'
import { Halt } from '../halt.js'

/** Ticks; any stop is over before. */
const MOST = 100_000

export function rehearse(rig: Rig): void {
  const halt = new Halt(
    rig,
    rig.buses.map(({ name }) => nowhere(name)),
    { feed: true },
  )
  const period = nanos(rig.control.period)
  halt.begin(0)
  for (let k = 1; k < MOST && halt.stage !== 'over'; k++) halt.tick(k * period)
  halt.drives(MOST * period)
}

/** Takes every frame. */
export function nowhere(name: string, answer: ReturnType<Bus['send']> = 'sent'): Bus {
  return {
    name,
    state: answer === 'sent' ? 'active' : 'gone',
    waiting: 0,
    send: () => answer,
    withdraw: () => 0,
    onFrame: () => {},
    only: () => {},
    onReport: () => {},
    close: () => {},
  }
}
