/** Deadlines that never move, and what becomes of those that passed. */
import { expect, test } from 'vitest'
import { beat } from '../../../../src/bench/realtime/beat.js'
import type { Scheduler } from '../../../../src/clock.js'

const MS = 1e6

/** Time stands at what the test says; one task is asked for at a time. */
class HandScheduler implements Scheduler {
  t = 100 * MS
  due = 0
  task: (() => void) | null = null
  now(): number {
    return this.t
  }
  at(t: number, task: () => void): void {
    expect(this.task).toBeNull()
    this.due = t
    this.task = task
  }
  /** The task runs, `late` after it is due. */
  run(late: number): void {
    const { task } = this
    this.task = null
    this.t = this.due + late
    task!()
  }
}

function setUp(tick: (late: number, missed: number) => boolean = () => true) {
  const scheduler = new HandScheduler()
  const ticks: [number, number][] = []
  beat({
    scheduler,
    period: 5 * MS,
    tick: (late, missed) => {
      ticks.push([late / MS, missed])
      return tick(late, missed)
    },
  })
  return { scheduler, ticks, due: () => scheduler.due / MS - 100 }
}

test('lateness does not add up', () => {
  const { scheduler, ticks, due } = setUp()
  scheduler.run(0)
  expect(due()).toBe(5)
  scheduler.run(1 * MS)
  expect(due()).toBe(10)
  scheduler.run(2 * MS)
  expect(due()).toBe(15)
  expect(ticks).toEqual([
    [0, 0],
    [1, 0],
    [2, 0],
  ])
})

test('ticks that were missed are counted and not caught up', () => {
  const { scheduler, ticks, due } = setUp()
  scheduler.run(0)
  scheduler.run(21 * MS) // 26 ms: the deadlines 5, 10, 15, 20 have passed, and 25 is served
  expect(ticks[1]).toEqual([21, 4])
  expect(due()).toBe(30)
  scheduler.run(0)
  expect(ticks[2]).toEqual([0, 0])
})

test('a deadline less than half a period away is left out, and counted', () => {
  const { scheduler, ticks, due } = setUp()
  scheduler.run(3 * MS)
  expect(due()).toBe(10)
  scheduler.run(0)
  expect(ticks[1]).toEqual([0, 1])
})

test('so is one that a tick which was held up itself left no time for', () => {
  let length = 4 * MS // a fifth of the period is left
  const { scheduler, ticks, due } = setUp(() => {
    scheduler.t += length
    return true
  })
  scheduler.run(0)
  expect(due()).toBe(10)
  length = 12 * MS // from 10 to 22: the deadline at 25 is far enough, 15 and 20 have passed
  scheduler.run(0)
  expect(due()).toBe(25)
  length = 0
  scheduler.run(0)
  expect(ticks).toEqual([
    [0, 0],
    [0, 1],
    [10, 2], // since 15: none of the two was left out on purpose
  ])
})

test('a loop that is held up in a tick is as late as one that is held up between two', () => {
  let length = 0
  const { scheduler, ticks, due } = setUp(() => {
    scheduler.t += length
    return true
  })
  scheduler.run(0)
  length = 401 * MS
  scheduler.run(0) // from 5 to 406
  length = 0
  expect(due()).toBe(410)
  scheduler.run(0.1 * MS)
  scheduler.run(0.1 * MS)
  expect(ticks.slice(2)).toEqual([
    [400.1, 80],
    [0.1, 0],
  ])
})

test('goes on after a tick that throws, and ends with one that says so', () => {
  let n = 0
  const { scheduler } = setUp(() => {
    if (n++ === 0) throw new Error('broken')
    return false
  })
  expect(() => scheduler.run(0)).toThrow('broken')
  scheduler.run(0)
  expect(scheduler.task).toBeNull()
})
