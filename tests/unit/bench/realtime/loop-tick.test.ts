/** How the loop of a run goes on: what is a sign of life, and how it ends when everything throws. */
import { expect, test } from 'vitest'
import { LoopTick } from '../../../../src/bench/realtime/loop-tick.js'
import { MOST_DEFECTS } from '../../../../src/bench/virtual.js'

function setUp({ guarded = true } = {}) {
  const seen: string[] = []
  const broken = new Set<string>()
  const defects: unknown[] = []
  const bench = { ended: false }
  const act = (name: string): void => {
    seen.push(name)
    if (broken.has(name)) throw new Error(name)
  }
  const loop = new LoopTick({
    bench: {
      get ended() {
        return bench.ended
      },
      stopCounts: null,
      tick: (late, missed) => act(`tick ${late} ${missed}`),
    },
    guardian: guarded ? { beat: () => act('beat') } : null,
    stream: { flush: () => act('flush') },
    defects: { onDefect: (error) => defects.push(error), count: () => defects.length },
    before: () => act('before'),
    after: (ticks) => act(`after ${ticks}`),
  })
  return { loop, seen, broken, defects, bench }
}

test('input, tick, beat, records, whoever looks on: in this order', () => {
  const { loop, seen } = setUp()
  expect(loop.run(3, 2)).toBe('goes on')
  expect(loop.run(0, 0)).toBe('goes on')
  expect(seen).toEqual([
    ...['before', 'tick 3 2', 'beat', 'flush', 'after 0'],
    ...['before', 'tick 0 0', 'beat', 'flush', 'after 1'],
  ])
})

test.each([
  ['before', ['before', 'flush', 'after 0']],
  ['tick 0 0', ['before', 'tick 0 0', 'flush', 'after 0']],
])(
  'a tick that was not finished (%s threw) is no sign of life; the records go out and the loop goes on',
  (name, order) => {
    const { loop, seen, broken, defects } = setUp()
    broken.add(name)
    expect(loop.run(0, 0)).toBe('goes on')
    expect(seen).toEqual(order)
    expect(defects).toEqual([new Error(name)])
  },
)

test('records that cannot be handed over are a defect, but the tick was finished', () => {
  const { loop, seen, broken, defects } = setUp()
  broken.add('flush')
  expect(loop.run(0, 0)).toBe('goes on')
  expect(seen).toEqual(['before', 'tick 0 0', 'beat', 'flush', 'after 0'])
  expect(defects).toEqual([new Error('flush')])
})

test('is over when the bench has ended', () => {
  const { loop, bench } = setUp()
  bench.ended = true
  expect(loop.run(0, 0)).toBe('over')
})

test.each([
  [true, 'given up'],
  [false, 'over'],
])('ticks that throw without end (guarded: %s): %s', (guarded, end) => {
  const { loop, seen, broken, defects } = setUp({ guarded })
  broken.add('tick 0 0')
  for (let n = 0; n < MOST_DEFECTS; n++) expect(loop.run(0, 0)).toBe('goes on')
  expect(loop.run(0, 0)).toBe(end)
  expect(defects).toHaveLength(MOST_DEFECTS + 1)
  expect(seen).not.toContain('beat')
})

test('a bench that ended with ever so many defects is over: its arms are at rest', () => {
  const { loop, broken, bench } = setUp()
  broken.add('tick 0 0')
  for (let n = 0; n < MOST_DEFECTS; n++) loop.run(0, 0)
  bench.ended = true
  expect(loop.run(0, 0)).toBe('over')
})
