/**
 * Time for everything above. Only this folder level reads a clock; all others are handed a `Clock`.
 *
 * Times are integer nanoseconds since the run began, held in a double: exact up to 104 days.
 */

export const NS_PER_S = 1e9

/** Nanoseconds since the run began. */
export type Nanos = number

export interface Clock {
  now(): Nanos
}

/** A clock that can also call back. Callbacks due at the same time run in the order they were asked for. */
export interface Scheduler extends Clock {
  /** Runs `task` at time `t`, or as soon as possible when `t` has passed. There is no cancel: tasks check for themselves. */
  at(t: Nanos, task: () => void): void
}

/** Rounds seconds to whole nanoseconds. */
export function nanos(seconds: number): Nanos {
  return Math.round(seconds * NS_PER_S)
}

export function seconds(t: Nanos): number {
  return t / NS_PER_S
}

/**
 * Time that moves only when told to: a binary heap of tasks ordered by (time, order of asking).
 * The same tasks always run in the same order, whatever the machine does.
 */
export class VirtualTime implements Scheduler {
  #now: Nanos = 0
  #order = 0
  // Three parallel arrays make one heap: no object an entry, so that millions of frames cost no garbage.
  readonly #times: number[] = []
  readonly #orders: number[] = []
  readonly #tasks: (() => void)[] = []

  now(): Nanos {
    return this.#now
  }

  at(t: Nanos, task: () => void): void {
    const times = this.#times
    const orders = this.#orders
    const tasks = this.#tasks
    const due = Math.max(t, this.#now)
    const order = this.#order++
    let i = times.length
    times.push(due)
    orders.push(order)
    tasks.push(task)
    while (i > 0) {
      const up = (i - 1) >> 1
      const upTime = times[up]!
      if (upTime < due || (upTime === due && orders[up]! < order)) break
      times[i] = upTime
      orders[i] = orders[up]!
      tasks[i] = tasks[up]!
      i = up
    }
    times[i] = due
    orders[i] = order
    tasks[i] = task
  }

  /** Runs every task due up to and including `t`, then stands at `t`. */
  runUntil(t: Nanos): void {
    while (this.#times.length > 0 && this.#times[0]! <= t) this.#runNext()
    this.#now = Math.max(this.#now, t)
  }

  #runNext(): void {
    const times = this.#times
    const orders = this.#orders
    const tasks = this.#tasks
    const task = tasks[0]!
    this.#now = times[0]!
    const time = times.pop()!
    const order = orders.pop()!
    const last = tasks.pop()!
    const n = times.length
    if (n > 0) {
      let i = 0
      for (;;) {
        let child = 2 * i + 1
        if (child >= n) break
        const right = child + 1
        if (
          right < n &&
          (times[right]! < times[child]! ||
            (times[right] === times[child] && orders[right]! < orders[child]!))
        ) {
          child = right
        }
        if (times[child]! > time || (times[child] === time && orders[child]! > order)) break
        times[i] = times[child]!
        orders[i] = orders[child]!
        tasks[i] = tasks[child]!
        i = child
      }
      times[i] = time
      orders[i] = order
      tasks[i] = last
    }
    task()
  }
}

/** Wall-clock facts for provenance.json and progress only: never part of a verdict. */
export const wall = {
  /** ISO 8601, UTC. */
  stamp: (): string => new Date().toISOString(),
  /** Monotonic milliseconds, for progress and for yielding. */
  ms: (): number => performance.now(),
}
