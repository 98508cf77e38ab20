/**
 * A stop in the place of a bench, on arms whose stop frame has a rolling counter. Drives that hear it are of three kinds (common
 * practice, no source): one believes any other number than the last, as the simulated drives here do of themselves; one the last
 * frame's plus one; one the last *believed* frame's plus one.
 */
import { describe, expect, it } from 'vitest'
import { nanos } from '../../../src/clock.js'
import { confirmed, Halt, type HaltOptions } from '../../../src/stop/halt.js'
import { Workbench } from '../../setup/bench.js'
import { between } from '../../setup/between.js'
import { change, FRAMES_RIG } from '../../setup/runs.js'

const MS = 1e6
/** Of the starboard arm, bus 1. */
const STOP_IDS = [1, 2, 3, 4, 5, 6].map((node) => 0x001 + 16 * node)
// Drives do not stop by themselves, and those of the starboard arm know of no other way to lose their torque: it is the stop
// frames that do it.
const RIG = change(
  change(
    change(
      change(FRAMES_RIG, 'watchdog: true', 'watchdog: false'),
      /^ +disable: \{ id: "0x002 \+ 16 x node".*\n/m,
      '',
    ),
    'stop: { id: "0x001 + 16 x node", bytes: 0 }',
    'stop: { id: "0x001 + 16 x node", bytes: 1, signals: [{ is: counter, byte: 0, length: 4 }] }',
  ),
  /^stop:\n/m,
  'stop:\n  prove: always\n',
)

type Kind = 'any other number' | 'one after the last' | 'one after the last believed'
const KINDS: readonly Kind[] = ['any other number', 'one after the last', 'one after the last believed']

interface Heard {
  readonly count: number
  readonly believed: boolean
  readonly t: number
}

/** The demo in mid-stroke, its stop path proven before; and what one drive makes of the stop frames that it hears. */
function playing(kind: Kind) {
  const heard: Heard[] = []
  const table = new Workbench(RIG, (joint, port) => {
    const last = new Map<number, number>()
    return between(port, {
      onFrame: (listener) =>
        port.onFrame((frame, t) => {
          if (!STOP_IDS.includes(frame.id)) {
            listener(frame, t)
            return
          }
          const count = frame.data[0]!
          const before = last.get(frame.id)
          const follows = before === undefined || kind === 'any other number' || count === (before + 1) % 16
          const believed = follows && count !== before
          if (believed || kind !== 'one after the last believed') last.set(frame.id, count)
          if (joint === 'starboard.swing' && frame.id === STOP_IDS[0]) heard.push({ count, believed, t })
          if (believed) listener(frame, t)
        }),
    })
  })
  const { bench } = table.bench()
  table.run(bench, () => (bench.scenarioTime ?? 0) >= 6)
  expect(bench.stage).toBe('play')
  expect(heard.length).toBeGreaterThan(0)
  expect(heard.every((h) => h.believed)).toBe(true)
  heard.length = 0
  const counts = bench.stopCounts!
  return { table, counts, heard, proven: counts[1]![0]![1] }
}

/** @returns ns from its beginning to the first stop frame that the drive believes */
function stop(
  { table, heard }: ReturnType<typeof playing>,
  counts: HaltOptions['counts'] | undefined,
): number {
  const buses = table.mocks.map((mock) => mock.attach('another'))
  const halt = new Halt(table.rig, buses, { feed: true, counts: counts ?? null })
  const began = table.time.now()
  halt.begin(began)
  const period = nanos(table.rig.control.period)
  for (let t = began + period; halt.stage !== 'over' && t < began + nanos(20); t += period) {
    table.time.runUntil(t)
    halt.tick(t)
  }
  expect(halt.drives(table.time.now()).every(confirmed)).toBe(true)
  return heard.find((h) => h.believed)!.t - began
}

describe.each(KINDS)('a drive that believes %s', (kind) => {
  it('is stopped by the first frame of whoever knows how far the bench has counted', () => {
    const play = playing(kind)
    stop(play, play.counts)
    expect(play.heard[0]).toMatchObject({ count: play.proven + 1, believed: true })
  })

  it('is stopped by the second, which follows at once, when the bench died after one more', () => {
    const play = playing(kind)
    const known = play.counts.map((bus) => bus.map(([id, sent]) => [id, sent - 1] as const))
    const until = stop(play, known)
    expect(play.heard.slice(0, 2)).toMatchObject([
      { count: play.proven, believed: false },
      { count: play.proven + 1, believed: true },
    ])
    expect(until / MS).toBeLessThan(2)
  })
})

describe('nothing is known of how far the bench has counted', () => {
  it.each(KINDS.slice(0, 2))('a drive that believes %s is stopped at once', (kind) => {
    expect(stop(playing(kind), undefined) / MS).toBeLessThan(2)
  })

  it('a drive that believes one after the last believed is stopped once all numbers have come round', () => {
    const play = playing('one after the last believed')
    // The worst place to begin at: just behind the one number that it waits for. 16 numbers, two at once and then one each 20 ms.
    const behind = play.counts.map((bus) => bus.map(([id, sent]) => [id, sent + 1] as const))
    const until = stop(play, behind) / MS
    expect(play.heard.findIndex((h) => h.believed)).toBe(15)
    expect(until).toBeGreaterThan(250)
    expect(until).toBeLessThan(16 * 25)
  })
})

it('frames without a counter go out once, and nothing is to be told of them', () => {
  const table = new Workbench(FRAMES_RIG)
  const { bench } = table.bench()
  expect(bench.stopCounts).toBeNull()
  const sent: number[] = []
  const buses = table.mocks.map((mock) =>
    between(mock.attach('another'), {
      send: (frame) => {
        sent.push(frame.id)
        return 'sent'
      },
    }),
  )
  new Halt(table.rig, buses, { feed: true }).begin(table.time.now())
  expect(sent).toEqual([0x010, ...STOP_IDS])
})
