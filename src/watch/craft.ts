/**
 * Where the craft of a simulation goes that is afloat: how fast at the end of the scenario, how far, and how it has turned. It
 * asks for nothing and finds nothing: what speed and course a scenario should come to is for whoever reads the figures. Dry, there is
 * nothing to see.
 */
import type { BenchEvent, Figure } from '../files/event.js'
import type { ShownUnit } from '../units.js'
import type { WatchSettings } from './settings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

type Place = Extract<BenchEvent, { kind: 'craft' }>

export class CraftWatch implements Watch {
  readonly kinds = ['craft', 'stage'] as const
  seen = false
  readonly #over: number
  /** Of the last `over` seconds of the play, in order of time. */
  readonly #end: Place[] = []
  #playing = false
  #first: Place | null = null
  #fastest = 0

  constructor({ settings }: WatchContext<WatchSettings['craft']>) {
    this.#over = settings.over * 1e9
  }

  see(o: Observation): void {
    if (o.kind === 'stage') this.#playing = o.stage === 'play'
    else if (o.kind === 'craft') this.#place(o)
  }

  close(): void {}

  figures(): Figure[] {
    const last = this.#end.at(-1)
    if (this.#first === null || last === undefined) return []
    const { x, y, heading } = this.#first
    const figure = (name: string, value: number, unit: ShownUnit): Figure => {
      return { place: '', name, value, unit, limit: null }
    }
    return [
      figure(
        'surge, mean of the end',
        this.#mean(({ surge }) => surge),
        'm/s',
      ),
      figure('surge, fastest', this.#fastest, 'm/s'),
      figure(
        'yaw rate, mean of the end',
        this.#mean(({ yaw }) => yaw),
        'rad/s',
      ),
      figure('way made good', Math.hypot(last.x - x, last.y - y), 'm'),
      figure('turn to port', last.heading - heading, 'rad'),
    ]
  }

  #place(o: Place): void {
    this.seen = true
    if (!this.#playing) return
    this.#first ??= o
    if (Math.abs(o.surge) > Math.abs(this.#fastest)) this.#fastest = o.surge
    this.#end.push(o)
    while (o.t - this.#end[0]!.t > this.#over) this.#end.shift()
  }

  #mean(of: (o: Place) => number): number {
    return this.#end.reduce((sum, o) => sum + of(o), 0) / this.#end.length
  }
}
