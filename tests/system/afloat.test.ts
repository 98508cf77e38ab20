/** Scenarios afloat through the whole pipeline: what the craft does, and what verdict and recording say of it. */
import { cpSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import { openRecording } from '../../src/record/read.js'
import { writeReports } from '../../src/report/write.js'
import { cautionsFor } from '../../src/verdict/cautions.js'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { Decoder } from '../../src/wire/decoder.js'
import {
  change,
  DEMO_RIG,
  eventsOf,
  FRAMES_RIG,
  type Played,
  play,
  scenarioText,
  temporaryFolder,
} from '../setup/runs.js'

const set = new URL('../../scenarios/afloat/', import.meta.url)
const files = readdirSync(set)
const text = (name: string) => readFileSync(new URL(`${name}.yaml`, set), 'utf8')
const out = temporaryFolder()

/** Each scenario is played once on the demo rig as it is. */
const runs = new Map<string, Promise<Played>>()
function run(name: string): Promise<Played> {
  const played = runs.get(name) ?? play(out, DEMO_RIG, text(name))
  runs.set(name, played)
  return played
}

type CraftEvent = Extract<BenchEvent, { kind: 'craft' }>
const craftOf = (folder: string) => eventsOf(folder).filter((e): e is CraftEvent => e.kind === 'craft')
const figuresOf = (verdict: Verdict): Record<string, number> => {
  const figures = verdict.watches.find(({ watch }) => watch === 'craft')?.figures ?? []
  return Object.fromEntries(figures.map(({ name, value }) => [name, value]))
}
const afloat = (verdict: Verdict) => verdict.cautions.filter((c) => c.startsWith('The craft of this run'))

describe('scenarios/afloat', () => {
  it.each(files)('%s passes, and its verdict says that craft and arms were simulated', async (file) => {
    const { verdict, folder } = await run(file.replace('.yaml', ''))
    expect(verdict.sentence).toMatch(/^Pass/)
    expect(verdict.cautions.join(' ')).toMatch(/arms of this run were simulated/)
    expect(afloat(verdict)).toEqual([
      expect.stringMatching(/^The craft of this run was afloat in a simulation/),
    ])
    expect(readFileSync(join(folder, 'scenario.yaml'), 'utf8')).toContain('plant: afloat')
    expect(craftOf(folder).length).toBeGreaterThan(50)
  })

  it('nothing commanded: the craft stays at rest, to the last digit', async () => {
    const { folder } = await run('still')
    for (const { x, y, heading, surge, sway, yaw } of craftOf(folder))
      expect([x, y, heading, surge, sway, yaw]).toEqual([0, 0, 0, 0, 0, 0])
  })

  it('both sides ahead: it goes ahead, slower than the blades, and straight', async () => {
    const { verdict } = await run('ahead')
    const figures = figuresOf(verdict)
    expect(figures['way made good']).toBeGreaterThan(1)
    expect(figures['surge, fastest']).toBeGreaterThan(0.1)
    expect(figures['surge, fastest']).toBeLessThan(0.3)
    expect(Math.abs(figures['turn to port']!)).toBeLessThan(0.01)
  })

  it("its figures are those of the play alone, by the recording's own events", async () => {
    const { verdict, folder } = await run('ahead')
    const events = eventsOf(folder)
    const begins = events.findIndex((e) => e.kind === 'stage' && e.stage === 'play')
    const ends = events.findIndex((e, i) => i > begins && e.kind === 'stage')
    const isCraft = (e: BenchEvent): e is CraftEvent => e.kind === 'craft'
    const played = events.slice(begins, ends).filter(isCraft)
    const [first, last] = [played[0]!, played.at(-1)!]
    const end = played.filter(({ t }) => last.t - t <= 10e9)
    const mean = (of: (e: CraftEvent) => number) => end.reduce((sum, e) => sum + of(e), 0) / end.length
    const figures = figuresOf(verdict)
    expect(figures['surge, mean of the end']).toBeCloseTo(
      mean(({ surge }) => surge),
      12,
    )
    expect(figures['yaw rate, mean of the end']).toBeCloseTo(
      mean(({ yaw }) => yaw),
      12,
    )
    expect(figures['surge, fastest']).toBe(Math.max(...played.map(({ surge }) => surge)))
    expect(figures['way made good']).toBeCloseTo(Math.hypot(last.x - first.x, last.y - first.y), 12)
    expect(figures['turn to port']).toBeCloseTo(last.heading - first.heading, 12)
    // It still has way on when the arms park.
    const parking = events.slice(ends).filter(isCraft)
    expect(parking.at(-1)!.x - last.x).toBeGreaterThan(0.1)
  })

  it('port alone: it turns to starboard; starboard alone: to port', async () => {
    const port = await run('port-only')
    const mirrored = change(text('port-only'), 'yaw: "-0.15', 'yaw: "0.15').replace(
      'arm: port',
      'arm: starboard',
    )
    const starboard = await play(out, DEMO_RIG, mirrored)
    expect(port.verdict.outcome).toBe('pass')
    expect(starboard.verdict.outcome).toBe('pass')
    const [there, back] = [port, starboard].map(({ verdict }) => figuresOf(verdict)['turn to port']!)
    expect(there).toBeLessThan(-0.3)
    expect(back! / there!).toBeCloseTo(-1, 2)
  })

  it('is judged later, byte for byte the same', async () => {
    const { folder } = await run('ahead')
    const again = await play(out, DEMO_RIG, text('ahead'))
    const bytes = (from: string, file: string) => readFileSync(join(from, file), 'utf8')
    expect(bytes(again.folder, 'events.jsonl')).toBe(bytes(folder, 'events.jsonl'))
    const copy = `${folder}-copy`
    cpSync(folder, copy, { recursive: true })
    rmSync(join(copy, 'verdict.json'))
    writeReports(copy, judgeRecording(copy))
    expect(bytes(copy, 'verdict.json')).toBe(bytes(folder, 'verdict.json'))
  })
})

describe('a rig', () => {
  it('may be afloat for every scenario that does not say otherwise', async () => {
    const rig = change(DEMO_RIG, 'plant: dry', 'plant: afloat')
    const still = change(text('still'), 'plant: afloat\n', '')
    const { verdict, folder } = await play(out, rig, still)
    expect(afloat(verdict)).toHaveLength(1)
    expect(craftOf(folder).length).toBeGreaterThan(50)
  })

  it('that is dry leaves neither events nor figures nor a word of a craft', async () => {
    const { verdict, folder } = await play(out, DEMO_RIG, change(text('still'), 'plant: afloat\n', ''))
    expect(afloat(verdict)).toEqual([])
    expect(verdict.watches.map(({ watch }) => watch)).not.toContain('craft')
    expect(craftOf(folder)).toEqual([])
  })

  it('on a real bus is told that nothing of the water was looked at', () => {
    const real = DEMO_RIG.replaceAll('address: mock', 'address: socketcan:can0')
    const rig = loadRig(real, 'rig.yaml', watchSchemas)
    expect(loadScenario(text('still'), 'still.yaml', rig).plant).toBe('afloat')
    const cautions = cautionsFor(rig, true, 'afloat').join(' ')
    expect(cautions).toMatch(/nothing of water or craft was looked at/)
    expect(cautions).not.toMatch(/was afloat in a simulation/)
  })
})

describe('drives', () => {
  it('that speak frames of their own bear the water too, and report it', async () => {
    const hull = 'hull: { length: "3.8 m", beam: "1 m", draught: "0.12 m", wetted: { area: "2.9 m2" } }'
    const frames = change(FRAMES_RIG, /\ncontrol:\n/, `\nwater: {}\n${hull}\ncontrol:\n`)
    const { verdict, folder } = await play(out, frames, text('ahead'))
    expect(verdict.sentence).toMatch(/^Pass/)
    expect(figuresOf(verdict)['surge, fastest']).toBeGreaterThan(0.1)
    const rig = loadRig(frames, 'rig.yaml', watchSchemas)
    const most = rig.joints.map(() => 0)
    const decoder = new Decoder(rig, (o) => {
      if (o.kind === 'feedback') most[o.joint] = Math.max(most[o.joint]!, Math.abs(o.torque))
    })
    openRecording(folder).replay({ frame: (...of) => decoder.see(...of), event: () => {} })
    // Shoulders carry arm and blade.
    expect(Math.min(most[1]!, most[7]!)).toBeGreaterThan(7)
  })

  it('that may not give what weight and water take fall behind: tracking sees it, and stops', async () => {
    const weak = change(DEMO_RIG, 'torque-share: "60 %"', 'torque-share: "20 %"')
    const dry = await play(out, weak, scenarioText('slow-ahead'))
    expect(dry.verdict.outcome).toBe('pass')
    const wet = await play(out, weak, text('ahead'))
    expect(wet.verdict.outcome).toBe('fail')
    expect(wet.verdict.stop).toMatchObject({ source: 'tracking' })
  })
})
