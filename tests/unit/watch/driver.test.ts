/** What the watch makes of a driver's answers: times written by hand, quantiles by nearest rank. */
import { describe, expect, it } from 'vitest'
import type { DriverSettings } from '../../../src/files/driver.js'
import type { Figure } from '../../../src/files/event.js'
import type { Command } from '../../../src/files/scenario.js'
import { DriverWatch } from '../../../src/watch/driver.js'
import { HISTOGRAM_RESOLUTION } from '../../../src/watch/histogram.js'
import type { Observation } from '../../../src/watch/watch.js'
import { change } from '../../setup/runs.js'
import { driven, type Order } from './driven.js'
import { otherwise } from './otherwise.js'
import { rig, scenario } from './rig.js'
import { told } from './transcript.js'

const MS = 1e6
const COMMANDS = [
  { at: 1, surge: 0.3, yaw: 0, over: 0 },
  { at: 5, surge: 0, yaw: 0, over: 0, ceases: true },
]

function watching(link: Partial<NonNullable<DriverSettings['link']>> | null, commands = COMMANDS) {
  const findings: Record<string, unknown>[] = []
  const base = rig()
  const every = { ownsBus: false, every: null, handshake: 10, answer: 0.05, rest: null, parked: 0.01 }
  const full = link && ({ kind: 'process', run: ['own'], ...every, ...link } as DriverSettings['link'])
  const watch = new DriverWatch({
    rig: { ...base, driver: { ...base.driver, link: full } },
    scenario: scenario({ commands }),
    settings: { react: 0.25 },
    report: (f) => findings.push(f),
  })
  const see = (o: Observation) => {
    if (watch.kinds.includes(o.kind)) watch.see(o)
  }
  return { watch, findings, see }
}

function figure(figures: readonly Figure[], name: string): number {
  const found = figures.find((f) => f.name === name)
  if (!found) throw new Error(`no figure ${name} in ${figures.map((f) => f.name).join(', ')}`)
  return found.value
}

const tick = (t: number, q: number | null): Observation => ({
  ...{ kind: 'tick', t, k: 0, late: 0, witness: null },
  setpoints: q === null ? null : [q, 0, 0, 0, 0, 0],
})

it('shows nothing of the reference driver while it has its commands and heeds them', () => {
  const { watch } = watching(null, COMMANDS.slice(0, 1))
  expect(watch.seen).toBe(false)
  expect(watch.figures()).toEqual([])
})

describe('from rest to the first motion', () => {
  const order = [{ at: 1, surge: 0.3 }]
  /** s by which commands, or setpoints, come late */
  const late = (s: number, what: 'commands' | 'setpoints', orders: readonly Order[] = order, lasts = 4) => {
    const periods = Math.round(s / 0.005)
    const commands: Command[] = Array.from({ length: periods }, () => ({ surge: 0, yaw: 0 }))
    const places: Float64Array[] = []
    const driver =
      what === 'commands'
        ? otherwise({
            hears: (command) => {
              commands.push(command)
              return commands.shift()!
            },
          })
        : otherwise({
            hands: (out) => {
              places.push(out.slice())
              out.set(places[Math.max(0, places.length - 1 - periods)]!)
            },
          })
    return driven('driver', { orders, lasts, driver })
  }

  it.each(['commands', 'setpoints'] as const)(
    '%s that are late by 400 ms are told, by 200 ms not',
    (what) => {
      const { findings } = late(0.4, what)
      expect(told(findings)).toEqual([
        'failure port command to first motion',
        'failure starboard command to first motion',
      ])
      // 2 m/s3 make a joint's 0.0105 rad/s, on a metre, in 0.102 s: from there 250 ms.
      expect(findings[0]!.t / 1e9).toBeCloseTo(1 + 0.102 + 0.25, 1)
      expect(findings[0]).toMatchObject({ limit: 0.25, unit: 's', stop: null })
      expect(late(0.2, what).findings).toEqual([])
    },
  )

  it('the sound driver is not behind at all, from the park place and after parking', () => {
    const orders = [
      { at: 0.5, surge: 0.3 },
      { at: 5, surge: 0 },
      { at: 6.2, surge: -0.2 },
      { at: 9, surge: 0 },
      ...[12, 12.5, 13, 13.5].flatMap((at) => [
        { at, surge: 0.3, yaw: 0.1 },
        { at: at + 0.25, surge: 0 },
      ]),
      { at: 20, surge: 0.1, yaw: 0.1 },
    ]
    expect(driven('driver', { orders, lasts: 24 }).findings).toEqual([])
  })

  it('a slow ramp of the command is no delay', () => {
    const orders = Array.from({ length: 60 }, (_, i) => ({ at: 1 + 0.05 * i, surge: 0.002 * i }))
    expect(late(0.1, 'commands', orders, 5).findings).toEqual([])
  })

  it('takes its limit from the rig', () => {
    const patient = (text: string) => change(text, 'watch: {}', 'watch: { driver: { react: "500 ms" } }')
    const commands: Command[] = Array.from({ length: 60 }, () => ({ surge: 0, yaw: 0 }))
    const driver = otherwise({
      hears: (command) => {
        commands.push(command)
        return commands.shift()!
      },
    })
    expect(driven('driver', { orders: order, lasts: 4, driver, change: patient }).findings).toEqual([])
  })
})

it('has latency by the count that comes back, the age of what is acted on, rate and its spread', () => {
  const { watch, see, findings } = watching({})
  // Commands at 0, 5, 10 ... ms; answered 2 ms later, but every tenth 6 ms, which is after the next was sent.
  const log: { at: number; o: Observation }[] = []
  for (let n = 1; n <= 100; n++) {
    const at = (n - 1) * 5
    const after = n % 10 === 0 ? 6 : 2
    log.push({ at, o: { kind: 'asked', t: at * MS, n } })
    log.push({ at: at + after, o: { kind: 'answered', t: (at + after) * MS, n, changed: false } })
    // Setpoints are used just before the next command goes out.
    log.push({ at: at + 4.9, o: tick((at + 4.9) * MS, 0) })
  }
  for (const { o } of log.sort((a, b) => a.at - b.at)) see(o)
  watch.close()
  const figures = watch.figures()
  const near = (name: string, value: number) =>
    expect(Math.abs(figure(figures, name) / value - 1), name).toBeLessThan(HISTOGRAM_RESOLUTION * 1.01)
  near('command to its answer, 50 %', 0.002)
  near('command to its answer, 99 %', 0.006)
  near('command to its answer, greatest', 0.006)
  expect(figures.find((f) => f.name === 'command to its answer, greatest')!.limit).toBe(0.05)
  near('age of the command acted on, 50 %', 0.0049)
  // Where the answer is late, the setpoints before it are used once more.
  near('age of the command acted on, greatest', 0.0099)
  // 99 times between answers, from 2 ms to 495 + 6 ms.
  expect(figure(figures, 'rate of answers')).toBeCloseTo(99 / 0.499, 9)
  near('time between answers, 50 %', 0.005)
  near('time between answers, greatest', 0.009)
  expect(findings).toEqual([])
})

it('a new command is acted on by the first answer to it, or to a later one, that changes a setpoint', () => {
  const { watch, see } = watching({})
  see({ kind: 'asked', t: 0, n: 1 })
  see({ kind: 'answered', t: 1 * MS, n: 1, changed: true })
  see({ kind: 'command', t: 5 * MS, surge: 0.3, yaw: 0 })
  see({ kind: 'asked', t: 5 * MS, n: 2 })
  // Still of the command before.
  see({ kind: 'answered', t: 6 * MS, n: 1, changed: true })
  // Answered, but nothing moves yet.
  see({ kind: 'answered', t: 9 * MS, n: 2, changed: false })
  see({ kind: 'asked', t: 10 * MS, n: 3 })
  see({ kind: 'answered', t: 25 * MS, n: 3, changed: true })
  see({ kind: 'answered', t: 35 * MS, n: 3, changed: true })
  watch.close()
  expect(figure(watch.figures(), 'command to first setpoint change, greatest')).toBeCloseTo(0.02, 12)
})

/** Commands cease at 5 s, the first joint goes on at 1 rad/s for so long. */
function ceasing(seconds: number, link: Parameters<typeof watching>[0]) {
  const seen = watching(link)
  for (let t = 0; t < 30; t += 0.005) {
    if (Math.abs(t - 5) < 1e-6) seen.see({ kind: 'withheld', t: 5e9, begins: true })
    seen.see(tick(Math.round(t * 1e9), Math.min(t, 5 + seconds)))
  }
  seen.watch.close()
  return { ...seen, rest: seen.watch.figures().find((f) => f.name === 'commands ceased to rest')! }
}

it('says how long it takes to rest, and stops a driver that takes longer than it may, once', () => {
  const good = ceasing(2, { rest: 3 })
  expect(good.rest.value).toBeCloseTo(2, 2)
  expect(good.rest.limit).toBe(3)
  expect(good.findings).toEqual([])
  const bad = ceasing(4, { rest: 3 })
  expect(bad.findings).toHaveLength(1)
  expect(bad.findings[0]).toMatchObject({ severity: 'failure', limit: 3, stop: 1, unit: 's' })
  expect((bad.findings[0]!.t as number) / 1e9).toBeGreaterThan(8)
  expect((bad.findings[0]!.t as number) / 1e9).toBeLessThan(8.011)
})

it('without a setting the limit is worked out from ramp, recovery, dwell and the way to the park place', () => {
  // 0.3 m/s at 0.4 m/s2 with 2 m/s3, half a recovery at 0.25 Hz, 1 s dwell, and 1 s; then lift and carry, which the demo needs too.
  const { rest } = ceasing(2, null)
  const without = 0.3 / 0.4 + 0.4 / 2 + 0.5 / 0.25 + 1 + 1
  expect(rest.limit!).toBeGreaterThan(without)
  expect(rest.limit!).toBeLessThan(without + 10)
})

it('who owns the bus is seen by setpoints on it: from rest to the first that moves', () => {
  const { watch, see } = watching({ ownsBus: true })
  const setpoint = (t: number, position: number): Observation => ({
    ...{ kind: 'setpoint', t, joint: 0, index: 0, position },
  })
  for (let t = 0; t < 1000; t += 5) see(setpoint(t * MS, 0))
  see({ kind: 'command', t: 1000 * MS, surge: 0.3, yaw: 0 })
  see({ kind: 'asked', t: 1000 * MS, n: 1 })
  for (let t = 1000; t < 2000; t += 5) see(setpoint(t * MS, t < 1040 ? 0 : (t - 1035) * 1e-3))
  watch.close()
  expect(figure(watch.figures(), 'command to first setpoint change, greatest')).toBeCloseTo(0.04, 12)
})
