/** Runs for tests: demo rig and scenarios with pieces of their text changed, played into a folder of the test's own. */
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll } from 'vitest'
import { playScenario } from '../../src/bench/play.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import { openRecording } from '../../src/record/read.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { watchSchemas } from '../../src/watch/settings.js'

const root = new URL('../../', import.meta.url).pathname

export const DEMO_RIG = readFileSync(join(root, 'rigs/reservoir-skiff.yaml'), 'utf8')

/** The demo skiff with arms that speak frames of their own. */
export const FRAMES_RIG = readFileSync(join(root, 'rigs/bottle-skiff-frames.yaml'), 'utf8')

/** Names of all demo scenarios. */
export const SCENARIOS = readdirSync(join(root, 'scenarios'))
  .filter((f) => f.endsWith('.yaml'))
  .map((f) => f.replace(/\.yaml$/, ''))

export function scenarioText(name: string): string {
  return readFileSync(join(root, 'scenarios', `${name}.yaml`), 'utf8')
}

/** A folder that goes away after the test file. */
export function temporaryFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'drystroke-'))
  afterAll(() => rmSync(folder, { recursive: true, force: true }))
  return folder
}

/** Replaces exactly one place of a text, and says so when there is none: a test must not run on an unchanged file. */
export function change(
  text: string,
  from: string | RegExp,
  to: string | ((...groups: string[]) => string),
): string {
  const changed = typeof to === 'string' ? text.replace(from, to) : text.replace(from, to)
  if (changed === text) throw new Error(`nothing to change: ${from}`)
  return changed
}

export interface Played {
  readonly verdict: Verdict
  readonly folder: string
}

export async function play(outDir: string, rigText: string, scenario: string, seed = 1): Promise<Played> {
  const rig = loadRig(rigText, 'rig.yaml', watchSchemas)
  return playScenario({
    rig,
    rigText,
    rigFile: 'rig.yaml',
    scenario: loadScenario(scenario, 'scenario.yaml', rig),
    scenarioText: scenario,
    scenarioFile: 'scenario.yaml',
    outDir,
    seed,
  })
}

export function eventsOf(folder: string): BenchEvent[] {
  const events: BenchEvent[] = []
  openRecording(folder).replay({ frame: () => {}, event: (e) => events.push(e) })
  return events
}
