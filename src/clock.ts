/**
 * Time for everything above. Only this folder level reads a clock; all others are handed a `Clock`.
 *
 * Times are integer nanoseconds since the run began, held in a double: exact up to 104 days.
 */

import { TaskHeap } from './task-heap.js'

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
 * Time that moves only when told to. The same tasks always run in the same order, whatever the machine does.
 */
export class VirtualTime implements Scheduler {
  #now: Nanos = 0
  readonly #tasks = new TaskHeap()

  now(): Nanos {
    return this.#now
  }

  at(t: Nanos, task: () => void): void {
    this.#tasks.add(Math.max(t, this.#now), task)
  }

  /** Runs every task due up to and including `t`, then stands at `t`. */
  runUntil(t: Nanos): void {
    while (this.#tasks.next <= t) {
      this.#now = this.#tasks.next
      this.#tasks.take()()
    }
    this.#now = Math.max(this.#now, t)
  }
}

/** What real time is made of; a test hands in its own. */
export interface Machine {
  /** Monotonic time as whole seconds and nanoseconds: CLOCK_MONOTONIC, the same for all processes. */
  readonly monotonic: () => readonly [number, number]
  /** The same time in ms, since whenever: what is read all the time, and so must make no garbage. */
  readonly ms: () => number
  /** Calls back after about `ms`, often up to 1.1 ms late. @returns a function that calls it off */
  readonly timer: (task: () => void, ms: number) => () => void
  /** Calls back once input and output have had their turn. */
  readonly soon: (task: () => void) => void
  /** Stands still for about `ns`, usually less than 0.1 ms longer: nothing else of this process runs. */
  readonly nap: (ns: Nanos) => void
  /** Goes round for `ns`, at most some microseconds longer while the system lets it: nothing else of this process runs. */
  readonly spin: (ns: Nanos) => void
}

const MACHINE: Machine = {
  monotonic: () => process.hrtime(),
  ms: () => performance.now(),
  timer: (task, ms) => {
    const timer = setTimeout(task, ms)
    return () => clearTimeout(timer)
  },
  soon: (task) => {
    setImmediate(task)
  },
  // Nobody ever wakes it: this is the one wait of the platform that is finer than a millisecond.
  nap: (ns) => {
    Atomics.wait(NEVER, 0, 0, ns / 1e6)
  },
  spin: (ns) => {
    const end = performance.now() + ns / 1e6
    while (performance.now() < end) {
      // Each look at the clock leaves a few bytes of garbage: a microsecond between two of them is near enough.
      for (let i = 0; i < ROUNDS; i++) WENT_ROUND[0] = i
    }
  },
}
const NEVER = new Int32Array(new SharedArrayBuffer(4))
const WENT_ROUND = new Int32Array(1)
/** A microsecond or so. */
const ROUNDS = 2000

/** How long before a task is due the timer gives way to spinning: beyond what a timer is late by on an idle machine. */
const SPIN: Nanos = 1.2e6
/**
 * While it waits for the exact time it naps this long at a time, so that input and output wait no longer than that: a loop
 * that spins without naps takes a whole core at 1 kHz, and under SCHED_FIFO Linux then stops it for 50 ms in each second
 * (sched_rt_runtime_us; sched(7)).
 */
const NAP: Nanos = 0.1e6
/**
 * The last stretch is spun without naps, which may end this much late at normal priority, and without a round of input and output,
 * which takes as long as what came in.
 */
const SHARP: Nanos = 0.15e6
/**
 * A wait that ended this much after the task was due was no wait but a standstill. What came in meanwhile came before the task, and is
 * let in before it: it may be the answer to the task before.
 */
const STANDSTILL: Nanos = 0.3e6
/** Tasks that ask for more tasks without end still let input and output have their turn after this long. */
const MOST_AT_ONCE: Nanos = 1e6

/**
 * The machine's monotonic time. Sleeps until shortly before the next task, then goes round over `setImmediate` in short naps, so
 * that input and output go on, and spins the last stretch to its exact time; with nothing due within a millisecond it does neither,
 * and with no task at all it does not keep the process alive. Tasks that are late run in the order in which they were due.
 */
export class RealTime implements Scheduler {
  /** `[s, ns]` of CLOCK_MONOTONIC that is time 0; another process that is handed it has the same times. */
  readonly base: readonly [number, number]
  readonly #machine: Machine
  readonly #offset: Nanos
  readonly #tasks = new TaskHeap()
  #callOff: (() => void) | null = null
  /** When the timer, if any, gives way to spinning. */
  #wake: Nanos = Infinity
  #spinning = false
  #running = false

  constructor(base?: readonly [number, number], machine: Machine = MACHINE) {
    this.#machine = machine
    const { s, ns, began } = together(machine)
    this.base = base ?? [s, ns]
    // Seconds first: their difference is small, so that the product is exact.
    this.#offset = (s - this.base[0]) * NS_PER_S + (ns - this.base[1]) - began
  }

  now(): Nanos {
    return Math.round(this.#machine.ms() * 1e6) + this.#offset
  }

  at(t: Nanos, task: () => void): void {
    this.#tasks.add(t, task)
    if (!this.#running) this.#plan()
  }

  /** Forgets every task. */
  stop(): void {
    this.#tasks.clear()
    this.#sleepNoMore()
  }

  #plan(): void {
    const { next } = this.#tasks
    if (this.#spinning || next === Infinity) return
    const wake = next - SPIN
    if (this.#wake <= wake) return
    this.#sleepNoMore()
    const ms = Math.floor((wake - this.now()) / 1e6)
    if (ms >= 1) {
      this.#wake = wake
      this.#callOff = this.#machine.timer(this.#pass, ms)
    } else {
      this.#spinning = true
      this.#machine.soon(this.#pass)
    }
  }

  #sleepNoMore(): void {
    this.#callOff?.()
    this.#callOff = null
    this.#wake = Infinity
  }

  readonly #pass = (): void => {
    this.#spinning = false
    this.#sleepNoMore()
    this.#running = true
    try {
      let began = this.now()
      const left = this.#tasks.next - began
      if (left > SHARP) this.#machine.nap(Math.min(left - SHARP, NAP))
      else if (left > 0) this.#machine.spin(left)
      if (left > 0) {
        began = this.now()
        // There is nothing left to wait for the next time, so that this happens once.
        if (began - this.#tasks.next > STANDSTILL) return
      }
      let now = began
      while (this.#tasks.next <= now && now - began <= MOST_AT_ONCE) {
        this.#tasks.take()()
        now = this.now()
      }
    } finally {
      // Also when a task has thrown: the others are still to come.
      this.#running = false
      this.#plan()
    }
  }
}

/** Readings that lie farther apart than this were interrupted, and are made anew. ms */
const TOGETHER = 0.02
/** A machine that is never so quick has its best reading taken. */
const MOST_READINGS = 50

/**
 * Both of a machine's times, read at one moment: a process that is held up between the two readings would be behind all others
 * by that for good.
 */
function together(machine: Machine): { s: number; ns: number; began: Nanos } {
  let best = { s: 0, ns: 0, began: 0 }
  let least = Infinity
  for (let i = 0; i < MOST_READINGS && least > TOGETHER; i++) {
    const before = machine.ms()
    const [s, ns] = machine.monotonic()
    const after = machine.ms()
    if (after - before >= least) continue
    least = after - before
    best = { s, ns, began: Math.round(((before + after) / 2) * 1e6) }
  }
  return best
}

/** Nothing else of this process runs for `ns`, of real time. */
export function standStill(ns: Nanos): void {
  MACHINE.nap(ns)
}

/** s by which a fault has set the clock on the wall forward. */
let wallStep = 0

/** Wall-clock facts for provenance.json and progress only: never part of a verdict. */
export const wall = {
  /** ISO 8601, UTC. */
  stamp: (): string => new Date(Date.now() + wallStep * 1000).toISOString(),
  /** s since a stamp (negative: it lies ahead; NaN: it is none). */
  secondsSince: (stamp: string): number => (Date.now() - Date.parse(stamp)) / 1000 + wallStep,
  /** To whoever asks from now on it is so many seconds later than it is; 0: it is right again. */
  stepTo: (seconds: number): void => {
    wallStep = seconds
  },
  /** Monotonic milliseconds, for progress and for yielding. */
  ms: (): number => performance.now(),
}

/**
 * Runs `task` after about `ms` milliseconds of real time: for trying again and giving up with what lies outside this
 * process, never for a deadline of a run. It does not keep the process alive.
 * @returns takes it back
 */
export function later(ms: number, task: () => void): () => void {
  const timer = setTimeout(task, ms)
  timer.unref()
  return () => clearTimeout(timer)
}
