/**
 * How the loop of a real-time run keeps its time: lateness of its ticks, ticks that were missed, and the overrun policy.
 *
 * A tick is late when it comes more than the rig's `realtime.late` after the first deadline that was not served yet; the
 * deadlines that passed in between were missed. More than `most-late` late or missed ticks in a row stop the run: arms
 * must not be led by a loop that is not there.
 *
 * The bench is at fault when a tick was missed or more than one in a thousand was late: then verdict and reports
 * say so before they say anything of the arms. So it is when simulated arms in a process of their own stood still in time, or when all feedback
 * of a bus of theirs came late: they then move as no real arm would. In virtual time there is no lateness but that which a fault of the scenario makes; until then nothing is said of it.
 */
import type { Nanos } from '../clock.js'
import type { Figure, Finding } from '../files/event.js'
import { showQuantity } from '../units.js'
import { Histogram } from './histogram.js'
import { LateBuses } from './late-buses.js'
import type { WatchSettings } from './settings.js'
import { isOperation } from './tracking.js'
import type { Observation, Watch, WatchContext } from './watch.js'

export class TimingWatch implements Watch {
  readonly kinds = ['process', 'tick', 'stage', 'arms', 'standstill', 'feedback'] as const
  /** Time was real, or virtual time was made to be late. */
  seen = false
  /** What the bench is at fault for, in words; null: its timing was good. Known when the run is over. */
  fault: string | null = null
  readonly #c: WatchContext<WatchSettings['timing']>
  readonly #lateness = new Histogram()
  #last = -1
  /** No tick is told of until SYNC runs. */
  #silent = false
  #late = 0
  #missed = 0
  #inRow = 0
  #told = false
  #moving = false
  /** Of simulated arms in a process of their own, while they were to move; s, and when. */
  readonly #standstills = { times: 0, longest: 0, t: 0 }
  /** Of such arms, null: the arms are no such ones. */
  #lateBuses: LateBuses | null = null
  #worst: { readonly t: Nanos; readonly late: number } = { t: 0, late: 0 }

  constructor(context: WatchContext<WatchSettings['timing']>) {
    this.#c = context
  }

  see(o: Observation): void {
    if (o.kind === 'process') this.seen = true
    else if (o.kind === 'stage') {
      this.#silent = o.stage === 'setup'
      this.#moving = isOperation(o.stage) || o.stage === 'stopping'
      // A new start is held to the policy anew.
      if (this.#silent) this.#told = false
      if (this.#silent) this.#lateBuses?.begin()
    } else if (o.kind === 'arms') this.#lateBuses = new LateBuses(this.#c.rig)
    else if (o.kind === 'feedback') {
      if (this.#moving) this.#lateBuses?.see(o.joint, o.index, o.t)
    } else if (o.kind === 'standstill') {
      if (!this.#moving) return
      const arms = this.#standstills
      arms.times += o.times
      if (o.longest / 1e9 > arms.longest) Object.assign(arms, { longest: o.longest / 1e9, t: o.t })
    } else if (o.kind === 'tick') {
      if (!this.seen) this.#awaitFault(o.k, o.late)
      if (this.seen) this.#tick(o.t, o.k, o.late / 1e9)
    }
  }

  close(): void {
    const { late } = this.#c.rig.realtime
    const p999 = this.#lateness.quantile(0.999)
    if (!this.seen) return
    if (this.#missed === 0 && p999 <= late) {
      this.#blameArms()
      return
    }
    const ticks = this.#missed === 1 ? '1 tick was missed' : `${this.#missed} ticks were missed`
    const worst = showQuantity(this.#lateness.max, 's')
    this.fault = `${this.#missed > 0 ? ticks : 'more than one tick in a thousand was late'}, the worst ${worst} late`
    this.#c.report({
      ...this.#blame(this.#worst.t, p999),
      severity: 'warning',
      quantity: 'lateness, 99.9 % of ticks',
      says: `The bench was at fault: ${this.fault}.`,
      stop: null,
    })
  }

  figures(): Figure[] {
    if (!this.seen) return []
    const { late } = this.#c.rig.realtime
    const at = (name: string, q: number): Figure => ({
      place: '',
      name: `tick lateness, ${name}`,
      value: this.#lateness.quantile(q),
      unit: 's',
      limit: null,
    })
    return [
      at('50 %', 0.5),
      at('99 %', 0.99),
      { ...at('99.9 %', 0.999), limit: late },
      { ...at('greatest', 1), value: this.#lateness.max },
      { place: '', name: 'late ticks', value: this.#late, unit: 'count', limit: null },
      { place: '', name: 'missed ticks', value: this.#missed, unit: 'count', limit: 0 },
      {
        place: '',
        name: 'standstills of the simulated arms',
        value: this.#standstills.times,
        unit: 'count',
        limit: 0,
      },
      ...(this.#lateBuses === null
        ? []
        : [
            {
              place: '',
              name: 'buses of the simulated arms held up',
              value: this.#lateBuses.times,
              unit: 'count',
              limit: 0,
            } satisfies Figure,
          ]),
    ]
  }

  /** Virtual time keeps itself, unless it is made to be late. */
  #awaitFault(k: number, late: Nanos): void {
    if (late / 1e9 > this.#c.rig.realtime.late || (this.#last >= 0 && k - this.#last > 1)) this.seen = true
    else this.#last = this.#silent ? -1 : k
  }

  #tick(t: Nanos, k: number, late: number): void {
    const { realtime, stop } = this.#c.rig
    const missed = this.#last < 0 ? 0 : k - this.#last - 1
    // The tick that enters the stage is still told of.
    this.#last = this.#silent ? -1 : k
    this.#missed += missed
    this.#lateness.add(Math.max(0, late))
    if (late > this.#worst.late) this.#worst = { t, late }
    const tardy = late > realtime.late
    if (tardy) this.#late++
    const inRow = this.#inRow + missed + (tardy ? 1 : 0)
    // Also a tick that comes in time ends a row of missed ones only once they are counted.
    this.#inRow = tardy ? inRow : 0
    if (inRow <= realtime.mostLate || this.#told) return
    this.#told = true
    this.#c.report({
      ...this.#blame(t, late),
      severity: 'doubt',
      quantity: 'lateness',
      says: `The loop overran: ${inRow} ticks in a row were late or missed, ${realtime.mostLate} may be.`,
      stop: stop.category,
    })
  }

  /** The loop was punctual; what stands for the arms may not have been. */
  #blameArms(): void {
    const { times, longest, t } = this.#standstills
    const late = this.#lateBuses?.times ?? 0
    if (times > 0) {
      this.fault = `the simulated arms stood still in time ${often(times)}, for ${showQuantity(longest, 's')} at most`
      this.#tellArms({ t, quantity: 'standstill of the simulated arms', value: longest, unit: 's' })
    } else if (late > 0) {
      this.fault = `all feedback of a bus of the simulated arms came only after the next SYNC ${often(late)}`
      this.#tellArms({ t: this.#lateBuses!.t, quantity: 'buses held up', value: late, unit: 'count' })
    }
  }

  #tellArms(of: Pick<Finding, 't' | 'quantity' | 'value' | 'unit'>): void {
    this.#c.report({
      ...of,
      place: '',
      severity: 'warning',
      limit: 0,
      says: `The bench was at fault: ${this.fault}.`,
      why: 'Arms whose machine does something else meanwhile move unevenly: what is said of them may be its doing.',
      look: "Look at the load of the stand-in's machine, and whether it was granted first-in first-out scheduling.",
      stop: null,
    })
  }

  #blame(
    t: Nanos,
    value: number,
  ): Pick<Finding, 'place' | 't' | 'value' | 'limit' | 'unit' | 'why' | 'look'> {
    return {
      place: '',
      t,
      value,
      limit: this.#c.rig.realtime.late,
      unit: 's',
      why: 'Arms that are led unevenly move unevenly: what is said of them may be the doing of the bench.',
      look: "Look at the machine's load and at the priority that the bench process was granted.",
    }
  }
}

const often = (times: number): string => (times === 1 ? 'once' : `${times} times`)
