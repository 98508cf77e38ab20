/**
 * The order of a stop on the wire: no setpoint any more, quick stop (or disable voltage) on every bus at once, disable
 * voltage at standstill, NMT pre-operational last of all; release and reset send nothing that moves.
 */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { openRecording } from '../../src/record/read.js'
import { findingsBlock } from '../../src/report/terminal.js'
import { isControl, Workbench } from '../setup/bench.js'
import { change, DEMO_RIG, play, played, scenarioText, temporaryFolder } from '../setup/runs.js'

/** One line for each thing of interest, in order: events of the stop, controlwords, NMT, and whether setpoints flow. */
function transcript(folder: string): string[] {
  const lines: string[] = []
  const say = (line: string): void => {
    if (lines.at(-1) !== line) lines.push(line)
  }
  const byEvent: Partial<Record<BenchEvent['kind'], (e: never) => string>> = {
    stop: (e: Extract<BenchEvent, { kind: 'stop' }>) => `stop by ${e.source}`,
    stage: (e: Extract<BenchEvent, { kind: 'stage' }>) => `stage ${e.stage}`,
    release: () => 'release',
    reset: () => 'reset',
    refused: (e: Extract<BenchEvent, { kind: 'refused' }>) => `refused: ${e.what}`,
    end: (e: Extract<BenchEvent, { kind: 'end' }>) => `end ${e.reason}`,
  }
  openRecording(folder).replay({
    frame: (bus, { id, data }, _, sent) => {
      if (!sent) return
      if (id === 0x181) say(`bus ${bus}: controlword ${data[0]}`)
      else if (id === 0x000) say(`bus ${bus}: NMT ${data[0]}`)
      else if (id > 0x200 && id < 0x280) say('setpoints')
    },
    event: (e) => {
      const line = byEvent[e.kind]?.(e as never)
      if (line) say(line)
    },
  })
  return lines.slice(lines.indexOf('stage play'))
}

describe('stop', () => {
  const out = temporaryFolder()

  it('category 1: quick stop on every bus, disable voltage at standstill, NMT last; release and reset move nothing', async () => {
    const { folder, verdict } = await played(DEMO_RIG, scenarioText('operator-stop'))
    expect(verdict.outcome).toBe('pass')
    expect(transcript(folder)).toEqual([
      'stage play',
      'setpoints',
      'bus 0: controlword 2',
      'bus 1: controlword 2',
      'stop by operator',
      'stage stopping',
      'bus 0: controlword 0',
      'bus 1: controlword 0',
      'stage stopped',
      'release',
      'reset',
      'refused: command',
      'bus 0: NMT 128',
      'bus 1: NMT 128',
      'end completed',
    ])
  })

  it('category 0: disable voltage on every bus at once', async () => {
    const rig = change(DEMO_RIG, /(stop:\n {2}category: )1/, '$10')
    const { folder, verdict } = await play(out, rig, scenarioText('operator-stop'))
    expect(verdict.stop).toMatchObject({ category: 0, source: 'operator' })
    const lines = transcript(folder)
    expect(lines.slice(0, 5)).toEqual([
      'stage play',
      'setpoints',
      'bus 0: controlword 0',
      'bus 1: controlword 0',
      'stop by operator',
    ])
    expect(lines).not.toContain('bus 0: controlword 2')
    expect(lines.filter((l) => l === 'setpoints')).toHaveLength(1)
  })

  it('category 0 with brakes: they hold, sag is measured, and every report says that power is not removed', async () => {
    const rig = change(DEMO_RIG, /(stop:\n {2}category: )1/, '$10')
    const { folder, verdict } = await play(out, rig, scenarioText('operator-stop'))
    expect(verdict.outcome).toBe('pass')
    const figures = verdict.watches.find((w) => w.watch === 'stopping')!.figures
    const swing = (name: string): number =>
      figures.find((f) => f.place === 'port.swing' && f.name === name)!.value
    expect(swing('travel to still')).toBeGreaterThan(0)
    expect(swing('time to still')).toBeGreaterThan(0)
    expect(swing('sag after still')).toBeLessThan(0.1 * (Math.PI / 180))
    const means = 'torque off by bus; power is not removed'
    expect(findingsBlock(verdict, { colour: false })).toContain(`category 0: ${means}`)
    expect(readFileSync(join(folder, 'report.html'), 'utf8')).toContain(means)
  })

  it('category 0 without brakes: the arms fall from the first moment on, and it fails', async () => {
    const rig = change(DEMO_RIG.replace(/brakes: true/g, 'brakes: false'), /(stop:\n {2}category: )1/, '$10')
    const { verdict } = await play(out, rig, scenarioText('operator-stop'))
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop).toMatchObject({ category: 0, toStill: null })
    expect(verdict.cautions).toContain('The rig states no brakes: without power the arms sink.')
    expect(verdict.findings).toContainEqual(
      expect.objectContaining({ watch: 'stopping', quantity: 'time to still', place: 'port.shoulder' }),
    )
  })

  it('what the bench itself stops for, here a bus that refuses frames, is of the category that the rig sets', () => {
    const table = new Workbench(change(DEMO_RIG, /(stop:\n {2}category: )1/, '$10'))
    const { bench, events } = table.bench()
    table.run(bench, () => (bench.scenarioTime ?? 0) > 5)
    table.refuse(0, 'queue full')
    const from = table.sent.length
    table.run(bench, () => bench.stage === 'stopping')
    expect(events.find((e) => e.kind === 'stop')).toMatchObject({ source: 'bus', category: 0 })
    // Once or twice: where our heartbeat is due in the same tick it is refused as well, and asks for the stop again.
    const told = table.sent.slice(from).filter((s) => isControl(s, 0))
    expect(new Set(told.map((s) => s.bus))).toEqual(new Set([1]))
    expect(table.sent.slice(from).some((s) => isControl(s, 2))).toBe(false)
  })

  it('without brakes and falling fast the arms never come to rest, and it fails', async () => {
    const rig = DEMO_RIG.replace(/brakes: true/g, 'brakes: false')
    const { verdict } = await play(out, rig, scenarioText('operator-stop'))
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop!.toStill).toBeNull()
    expect(verdict.findings).toContainEqual(
      expect.objectContaining({
        watch: 'stopping',
        quantity: 'time to still',
        place: 'port.shoulder',
        severity: 'failure',
      }),
    )
  })

  it('without brakes and sinking slowly they come to rest and then sag, told apart, and it fails', async () => {
    const rig = change(
      DEMO_RIG.replace(/brakes: true/g, 'brakes: false'),
      /(simulation:[\s\S]*?sag: )"[^"]+"/,
      '$1"0.04 rad/s2"',
    )
    const { verdict } = await play(out, rig, scenarioText('operator-stop'))
    expect(verdict.outcome).toBe('fail')
    expect(verdict.stop!.toStill).toBeLessThan(0.5)
    const sag = verdict.findings.find((f) => f.watch === 'stopping' && f.quantity === 'sag')!
    // Half g t^2 over the 2 s of the window, and a little from before it.
    expect(sag.limit).toBeCloseTo(Math.PI / 180, 9)
    expect(sag.value).toBeGreaterThan(sag.limit)
  })

  it('start, reset and release out of order are refused and move nothing', async () => {
    const actions =
      '  - { at: "9 s", do: reset }\n  - { at: "10 s", do: start }\n  - { at: "11 s", do: release }\n  - { at: "12 s", do: start }\n'
    const text = change(scenarioText('operator-stop'), / {2}- \{ at: "9 s"[\s\S]*?(?=expect:)/, actions)
    const { folder, verdict } = await play(out, DEMO_RIG, text)
    const after = transcript(folder)
    expect(after.filter((l) => l.startsWith('refused'))).toEqual([
      'refused: reset',
      'refused: start',
      'refused: start',
      'refused: command',
    ])
    expect(after.filter((l) => l === 'setpoints')).toHaveLength(1)
    expect(verdict.outcome).toBe('pass')
  })

  it('a new start goes from the measured pose to park, and an old command does not come back', async () => {
    const { folder, verdict } = await played(DEMO_RIG, scenarioText('new-start'))
    expect(verdict.outcome).toBe('pass')
    const stages: { stage: string; t: number }[] = []
    const commands: { t: number; surge: number }[] = []
    openRecording(folder).replay({
      frame: () => {},
      event: (e) => {
        if (e.kind === 'stage') stages.push(e)
        if (e.kind === 'command') commands.push(e)
      },
    })
    expect(stages.map((s) => s.stage)).toEqual([
      ...['setup', 'seed', 'enable', 'approach', 'play'],
      ...['stopping', 'stopped', 'setup', 'seed', 'enable', 'approach', 'play'],
      ...['park', 'disable', 'rest'],
    ])
    const again = stages.filter((s) => s.stage === 'play')[1]!.t
    const scenarioZero = stages.find((s) => s.stage === 'play')!.t
    const next = commands.find((c) => c.t >= again)!
    expect((next.t - scenarioZero) / 1e9).toBeGreaterThanOrEqual(20)
  })
})
