/** Which deadlines a loop serves that is held up. Times in ms at a period of 5 ms. */
import { expect, it } from 'vitest'
import { Pacer } from '../../../src/bench/pacer.js'

/** Plays ticks; each entry: how late it begins after it is due, and how long it takes. @returns due, late, missed */
function play(ticks: readonly (readonly [late: number, takes: number])[]): number[][] {
  const pacer = new Pacer(0, 5)
  return ticks.map(([late, takes]) => {
    const { due } = pacer
    pacer.begin(due + late)
    const seen = [due, pacer.late, pacer.missed]
    pacer.end(due + late + takes)
    return seen
  })
}

it('a punctual loop is never late and misses nothing', () => {
  expect(
    play([
      [0, 1],
      [0, 1],
      [0, 1],
    ]),
  ).toEqual([
    [0, 0, 0],
    [5, 0, 0],
    [10, 0, 0],
  ])
})

it('a tick that takes 20 ms makes the next one late by all deadlines that it slept through', () => {
  // Deadlines at 5, 10, 15 passed, that at 20 is too near; served at 25, 20 ms after the first.
  expect(
    play([
      [0, 20],
      [0, 0],
      [0, 0],
    ]),
  ).toEqual([
    [0, 0, 0],
    [25, 20, 4],
    [30, 0, 0],
  ])
})

it('a tick that begins late serves the last deadline that has passed', () => {
  expect(
    play([
      [0, 0],
      [12, 0],
      [0, 0],
    ]),
  ).toEqual([
    [0, 0, 0],
    [5, 12, 2],
    [20, 0, 0],
  ])
})

it('a little late is late, and nothing is missed', () => {
  expect(
    play([
      [0, 0],
      [1, 0],
      [0, 0],
    ]),
  ).toEqual([
    [0, 0, 0],
    [5, 1, 0],
    [10, 0, 0],
  ])
})
