/** From what stands on the command line to a rig and its scenarios: everything is read and checked before anything runs. */
import { readdirSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { DrystrokeError } from '../errors.js'
import { withBusAddresses } from '../files/bus-override.js'
import { loadRig, loadScenario } from '../files/load.js'
import { didYouMean, nearest } from '../files/nearest.js'
import { neighbour, readText } from '../files/read-text.js'
import { wholeRigText } from '../files/resolved-text.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { watchComplaints } from '../watch/all.js'
import { type WatchSettings, watchSchemas } from '../watch/settings.js'
import { refuseSlowLines } from './slow-lines.js'

/** The word that stands for the demo's scenarios and rig, wherever the package lies. */
const DEMO = 'demo'
const packaged = (name: string): string => fileURLToPath(new URL(`../../${name}`, import.meta.url))

export interface ScenarioInput {
  readonly file: string
  readonly text: string
  readonly scenario: Scenario
}

export interface Inputs {
  readonly rigFile: string
  readonly rigText: string
  readonly rig: Rig<WatchSettings>
  /** What people should know of files that the rig names. */
  readonly notes: readonly string[]
  readonly scenarios: readonly ScenarioInput[]
}

/**
 * @param scenarios files, folders, or `demo`
 * @param buses where the rig's buses are for this once, as `--bus` says it
 * @throws DrystrokeError with the errors of all files
 */
export function readInputs(
  scenarios: readonly string[],
  rigFile: string | undefined,
  buses: readonly string[] = [],
): Inputs {
  const demo = scenarios.includes(DEMO)
  const chosenRig = rigFile ?? (demo ? packaged('rigs/reservoir-skiff.yaml') : undefined)
  const { rigFile: file, rigText, rig, notes } = readRig(chosenRig, buses)
  const files = scenarios.flatMap((name) => filesOf(name === DEMO ? packaged('scenarios') : name))
  const errors: string[] = []
  const read = files.flatMap((file): ScenarioInput[] => {
    try {
      const text = readText(file)
      return [{ file, text, scenario: loadScenario(text, file, rig) }]
    } catch (error) {
      if (!(error instanceof DrystrokeError)) throw error
      errors.push(error.message)
      return []
    }
  })
  if (errors.length > 0) throw new DrystrokeError('file-invalid', errors.join('\n'))
  const twice = read.find((a, i) => read.findIndex((b) => b.scenario.name === a.scenario.name) !== i)
  if (twice) {
    throw new DrystrokeError(
      'file-invalid',
      `${twice.file}: another scenario is named ${twice.scenario.name} too; give each its own name`,
    )
  }
  return { rigFile: file, rigText, rig, notes, scenarios: read }
}

/**
 * @param file undefined is refused: a rig must be named
 * @param buses where its buses are for this once, as `--bus` says it
 * @returns its text with whatever it takes from other files written into it
 * @throws DrystrokeError
 */
export function readRig(file: string | undefined, buses: readonly string[]): Omit<Inputs, 'scenarios'> {
  if (file === undefined)
    throw new DrystrokeError(
      'usage',
      'Say which rig: --rig FILE, for example --rig rigs/reservoir-skiff.yaml',
    )
  const written = readText(file)
  const load = (text: string) => loadRig(text, file, watchSchemas, watchComplaints)
  // First as it is written: places in messages are then those of the file.
  const rig = load(written)
  const names = rig.buses.map((b) => b.name)
  const whole = wholeRigText(written, file)
  const rigText = withBusAddresses(whole.text, names, buses)
  const used = rigText === written ? rig : load(rigText)
  refuseSlowLines(file, used)
  return { rigFile: file, rigText, rig: used, notes: whole.notes }
}

function filesOf(name: string): string[] {
  let folder: boolean
  try {
    folder = statSync(name).isDirectory()
  } catch (error) {
    const advice = didYouMean(neighbour(name) ?? nearest(name, [DEMO]))
    throw new DrystrokeError(
      'file-access',
      `${name}: no such file or folder; expected a scenario file, a folder of them, or the word ${DEMO}${advice && `; ${advice}`}`,
      { file: name },
      error,
    )
  }
  if (!folder) return [name]
  const files = readdirSync(name)
    .filter((f) => /\.ya?ml$/.test(f))
    .sort()
  if (files.length === 0)
    throw new DrystrokeError('file-access', `${name}: no scenario (.yaml) in this folder`, { file: name })
  return files.map((f) => join(name, f))
}
