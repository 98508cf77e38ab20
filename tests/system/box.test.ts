/** What the bench does with the contact of an emergency-stop box. */
import { describe, expect, it } from 'vitest'
import type { Bench } from '../../src/bench/bench.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig } from '../../src/files/load.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { CONTROLWORD, isControl, isSetpoint, Workbench } from '../setup/bench.js'
import { change, DEMO_RIG, scenarioText } from '../setup/runs.js'

const RIG = change(DEMO_RIG, /^stop:\n/m, 'stop-box: { device: /dev/ttyUSB0, line: cts }\n\nstop:\n')
const inPlay = (bench: Bench, s: number) => () => (bench.scenarioTime ?? -1) > s
const stopsOf = (events: readonly BenchEvent[]) => events.filter((e) => e.kind === 'stop')

function boxed(scenario = scenarioText('slow-ahead')) {
  const table = new Workbench(RIG)
  const { bench, events } = table.bench(scenario, undefined, undefined, undefined, true)
  return { table, bench, events }
}

describe('an emergency-stop box', () => {
  it('is read from the rig, with defaults; a device that is none is refused', () => {
    expect(loadRig(RIG, 'rig.yaml', watchSchemas).stopBox).toEqual({
      device: '/dev/ttyUSB0',
      line: 'cts',
      settle: 0.05,
      patience: 0.05,
    })
    const wrong = change(RIG, '/dev/ttyUSB0', 'ttyUSB0')
    expect(() => loadRig(wrong, 'rig.yaml', watchSchemas)).toThrow(/stop-box\.device.*such as \/dev\/ttyUSB0/)
  })

  it.each([null, 'open'] as const)(
    'that was never closed (%s) keeps the arms from being enabled',
    (contact) => {
      const { table, bench, events } = boxed()
      if (contact) bench.onContact(contact)
      table.run(bench)
      expect(stopsOf(events)).toMatchObject([{ source: 'box', place: '/dev/ttyUSB0', category: 1 }])
      expect(events.some((e) => e.kind === 'stage' && e.stage === 'enable')).toBe(false)
      // Fh: enable operation.
      expect(table.sent.some((s) => s.frame.id === CONTROLWORD && s.frame.data[0] === 0xf)).toBe(false)
    },
  )

  it.each(['open', 'lost'] as const)(
    'that is %s in mid-stroke stops every arm before anything else',
    (contact) => {
      const { table, bench, events } = boxed()
      bench.onContact('closed')
      table.run(bench, inPlay(bench, 5))
      expect(stopsOf(events)).toEqual([])
      const t = table.time.now()
      const from = table.sent.length
      bench.onContact(contact)
      expect(table.sent.slice(from).map((s) => [s.bus, isControl(s, 2), s.t])).toEqual([
        [0, true, t],
        [1, true, t],
      ])
      table.run(bench)
      expect(stopsOf(events)).toMatchObject([{ source: 'box', t }])
      expect(table.sent.slice(from).filter(isSetpoint)).toEqual([])
      expect(events).toContainEqual({ kind: 'contact', t, place: '/dev/ttyUSB0', contact })
    },
  )

  it('that closes again moves nothing: it only permits the release', () => {
    const text = change(
      scenarioText('operator-stop'),
      /operator:\n(?: {2}-.*\n)+/,
      'operator:\n  - { at: "6 s", do: stop }\n  - { at: "8 s", do: release }\n  - { at: "10 s", do: release }\n',
    )
    const { table, bench, events } = boxed(text)
    bench.onContact('closed')
    table.run(bench, inPlay(bench, 5))
    bench.onContact('open')
    table.run(bench, inPlay(bench, 9))
    expect(events.filter((e) => e.kind === 'refused').map((e) => e.what)).toContain('release')
    const from = table.sent.length
    bench.onContact('closed')
    expect(table.sent).toHaveLength(from)
    expect(events.some((e) => e.kind === 'release')).toBe(false)
    table.run(bench, inPlay(bench, 10.5))
    expect(events.filter((e) => e.kind === 'release')).toHaveLength(1)
    expect(table.sent.slice(from).filter((s) => isSetpoint(s) || s.frame.data[0] === 0xf)).toEqual([])
  })
})
