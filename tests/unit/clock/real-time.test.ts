/** Real time on a machine of the test's own: its clock stands still unless told, timers and turns are called by hand. */
import { describe, expect, test } from 'vitest'
import { type Machine, RealTime } from '../../../src/clock.js'

const MS = 1e6

class HandMachine implements Machine {
  ns = 0
  /** Hand-made clocks of processes that have run for long: seconds are large. */
  s = 8e6
  readonly sleeping = new Set<{ task: () => void; ms: number }>()
  turns: (() => void)[] = []
  readonly naps: number[] = []
  readonly spins: number[] = []

  readonly monotonic = (): readonly [number, number] => {
    const ns = this.ns
    return [this.s + Math.floor(ns / 1e9), ns % 1e9]
  }
  /** Of another origin: only differences count. */
  readonly ms = (): number => 12_345 + this.ns / 1e6
  readonly timer = (task: () => void, ms: number): (() => void) => {
    const timer = { task, ms }
    this.sleeping.add(timer)
    return () => this.sleeping.delete(timer)
  }
  readonly soon = (task: () => void): void => {
    this.turns.push(task)
  }

  readonly nap = (ns: number): void => {
    this.naps.push(ns)
    this.ns += ns
  }

  readonly spin = (ns: number): void => {
    this.spins.push(ns)
    this.ns += ns
  }

  /** The only timer fires at `ns`. */
  wake(ns: number): void {
    expect(this.sleeping.size).toBe(1)
    this.ns = ns
    const [timer] = this.sleeping
    this.sleeping.clear()
    timer!.task()
  }
  /** The event loop comes round at `ns`. */
  turn(ns: number): void {
    this.ns = ns
    const turns = this.turns
    this.turns = []
    expect(turns).toHaveLength(1)
    for (const task of turns) task()
  }
  get sleeps(): number[] {
    return [...this.sleeping].map((t) => t.ms)
  }
}

function setUp(): { machine: HandMachine; time: RealTime; ran: string[]; note: (s: string) => () => void } {
  const machine = new HandMachine()
  const time = new RealTime(undefined, machine)
  const ran: string[] = []
  const note = (s: string) => () => {
    ran.push(`${s} @${time.now() / MS}`)
  }
  return { machine, time, ran, note }
}

describe('real time', () => {
  test('begins at 0 and goes on exactly, however long the machine has been up', () => {
    const { machine, time } = setUp()
    expect(time.now()).toBe(0)
    machine.ns = 3_600e9 + 1
    expect(time.now()).toBe(3_600e9 + 1)
    // Another process with the same base has the same time.
    expect(new RealTime(time.base, machine).now()).toBe(3_600e9 + 1)
  })

  test('neither sleeps nor spins with nothing to do', () => {
    const { machine } = setUp()
    expect(machine.sleeps).toEqual([])
    expect(machine.turns).toEqual([])
  })

  test('sleeps to within 1.2 ms of a task, then spins to its time', () => {
    const { machine, time, ran, note } = setUp()
    time.at(5 * MS, note('tick'))
    expect(machine.sleeps).toEqual([3])
    machine.wake(4 * MS)
    expect(machine.sleeps).toEqual([])
    machine.turn(4.5 * MS)
    expect(machine.ns).toBe(4.6 * MS)
    expect(ran).toEqual([])
    machine.turn(4.999 * MS)
    expect(ran).toEqual(['tick @5'])
    expect(machine.sleeps).toEqual([])
    expect(machine.turns).toEqual([])
  })

  test('naps between turns, at most 0.1 ms, and spins the last 0.15 ms in one go', () => {
    const { machine, time, ran, note } = setUp()
    time.at(1 * MS, note('tick'))
    machine.turn(0)
    machine.turn(0.8 * MS)
    expect(machine.naps).toEqual([0.1 * MS, 0.05 * MS])
    expect(machine.spins).toEqual([])
    // Input and output have had their turn before.
    machine.turn(0.86 * MS)
    expect(machine.naps).toHaveLength(2)
    expect(machine.spins).toEqual([0.14 * MS])
    expect(ran).toEqual(['tick @1'])
  })

  test('a turn that comes late neither naps nor spins', () => {
    const { machine, time, ran, note } = setUp()
    time.at(1 * MS, note('tick'))
    machine.turn(1.2 * MS)
    expect([machine.naps, machine.spins]).toEqual([[], []])
    expect(ran).toEqual(['tick @1.2'])
  })

  test('after a standstill in its wait, input and output have a turn before the task, once', () => {
    for (const wait of ['nap', 'spin'] as const) {
      const { machine, time, ran, note } = setUp()
      time.at(1 * MS, note('tick'))
      Object.assign(machine, { [wait]: () => (machine.ns = 1.4 * MS) })
      machine.turn(wait === 'nap' ? 0.5 * MS : 0.9 * MS)
      expect(ran).toEqual([])
      machine.turn(1.5 * MS)
      expect(ran).toEqual(['tick @1.5'])
      expect(machine.turns).toEqual([])
    }
  })

  test('an earlier task cuts the sleep short; a later one does not', () => {
    const { machine, time, ran, note } = setUp()
    time.at(20 * MS, note('far'))
    expect(machine.sleeps).toEqual([18])
    time.at(30 * MS, note('farther'))
    expect(machine.sleeps).toEqual([18])
    time.at(10 * MS, note('near'))
    expect(machine.sleeps).toEqual([8])
    time.at(1 * MS, note('now'))
    expect(machine.sleeps).toEqual([])
    machine.turn(1 * MS)
    expect(ran).toEqual(['now @1'])
    expect(machine.sleeps).toEqual([7])
    machine.wake(10.5 * MS)
    machine.wake(40 * MS)
    expect(ran).toEqual(['now @1', 'near @10.5', 'far @40', 'farther @40'])
  })

  test('late tasks run in the order in which they were due, those of one time as they were asked for', () => {
    const { machine, time, ran, note } = setUp()
    time.at(3 * MS, note('c'))
    time.at(2 * MS, () => {
      note('b')()
      time.at(2.5 * MS, note('b and a half'))
    })
    time.at(-1, note('a'))
    time.at(3 * MS, note('d'))
    machine.turn(7 * MS)
    expect(ran).toEqual(['a @7', 'b @7', 'b and a half @7', 'c @7', 'd @7'])
  })

  test('a task without end lets input and output have their turn', () => {
    const { machine, time } = setUp()
    let n = 0
    const again = (): void => {
      n++
      machine.ns += 0.3 * MS
      time.at(0, again)
    }
    time.at(0, again)
    machine.turn(0)
    expect(n).toBe(4)
    expect(machine.turns).toHaveLength(1)
  })

  test('a task that throws does not take the others with it', () => {
    const { machine, time, ran, note } = setUp()
    time.at(1 * MS, () => {
      throw new Error('broken')
    })
    time.at(1 * MS, note('next'))
    expect(() => machine.turn(1 * MS)).toThrow('broken')
    machine.turn(1 * MS)
    expect(ran).toEqual(['next @1'])
  })

  test('stopped it forgets its tasks, and can be used again', () => {
    const { machine, time, ran, note } = setUp()
    time.at(1 * MS, note('forgotten'))
    time.stop()
    time.at(9 * MS, note('kept'))
    machine.turn(0)
    expect(machine.sleeps).toEqual([7])
    time.stop()
    expect(machine.sleeps).toEqual([])
    time.at(0, note('last'))
    machine.turn(2 * MS)
    expect(ran).toEqual(['last @2'])
  })

  test('on this machine: tasks come in order, never before their time', async () => {
    const time = new RealTime()
    const ran: number[] = []
    const due = [0, 0.5, 3, 3.01, 12].map((ms) => ms * MS)
    await new Promise<void>((resolve) => {
      for (const t of [...due].reverse()) {
        time.at(t, () => {
          expect(time.now()).toBeGreaterThanOrEqual(t)
          ran.push(t)
          if (ran.length === due.length) resolve()
        })
      }
    })
    expect(ran).toEqual(due)
  })
})

test('a clock that is held up between its two readings is not behind the others by that', () => {
  const machine = new HandMachine()
  const other = new RealTime(undefined, machine)
  const { monotonic } = machine
  let held = 3
  Object.assign(machine, {
    monotonic: (): readonly [number, number] => {
      const read = monotonic()
      if (held-- > 0) machine.ns += 40 * MS
      return read
    },
  })
  const late = new RealTime(other.base, machine)
  expect(late.now()).toBe(other.now())
})
