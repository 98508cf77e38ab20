/** Runs for tests: demo rig and scenarios with pieces of their text changed, played into a folder of the test's own. */
import { createHash } from 'node:crypto'
import {
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { deserialize, serialize } from 'node:v8'
import { afterAll, inject } from 'vitest'
import { playScenario } from '../../src/bench/play.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import type { Rig } from '../../src/files/rig.js'
import { openRecording } from '../../src/record/read.js'
import type { Verdict } from '../../src/verdict/verdict.js'
import { type WatchSettings, watchSchemas } from '../../src/watch/settings.js'

export { change } from './change.js'

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

export interface Played {
  readonly verdict: Verdict
  readonly folder: string
}

/** Rigs that were read, by their text: nobody writes into one, and reading takes a tenth of a run. */
const rigs = new Map<string, Rig<WatchSettings>>()

function rigOf(text: string): Rig<WatchSettings> {
  const rig = rigs.get(text) ?? loadRig(text, 'rig.yaml', watchSchemas)
  rigs.set(text, rig)
  return rig
}

export async function play(outDir: string, rigText: string, scenario: string, seed = 1): Promise<Played> {
  const rig = rigOf(rigText)
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

const VERDICT = 'verdict.bin'

/**
 * A run on these files that other tests look at too: played once for all of them, whichever comes first. Nobody changes its folder, nor
 * writes beside it: whoever wants to copies it.
 */
export async function played(rigText: string, scenario: string, seed = 1): Promise<Played> {
  const key = createHash('sha256')
    .update(JSON.stringify([rigText, scenario, seed]))
    .digest('hex')
  const shared = inject('sharedRuns')
  const place = join(shared, key)
  if (!existsSync(place)) {
    const own = mkdtempSync(join(shared, 'playing-'))
    const { verdict } = await play(own, rigText, scenario, seed)
    writeFileSync(join(own, VERDICT), serialize(verdict))
    // Somebody else may have been quicker: theirs is the same, to the byte.
    if (existsSync(place)) rmSync(own, { recursive: true })
    else renameSync(own, place)
  }
  const [name] = readdirSync(place).filter((n) => n !== VERDICT)
  return { verdict: deserialize(readFileSync(join(place, VERDICT))), folder: join(place, name!) }
}

export function eventsOf(folder: string): BenchEvent[] {
  const events: BenchEvent[] = []
  openRecording(folder).replay({ frame: () => {}, event: (e) => events.push(e) })
  return events
}
