/** All runs of a proof, as jobs that are small enough to be sent to a worker by name. */
import { cleanScenario, rigOfSeed } from './clean.js'
import { type DriverEntry, LEVELS, type Level } from './driver-entry.js'
import { DRIVERS } from './drivers/catalogue.js'
import { FAULT_ENTRIES, type FaultEntry } from './faults.js'
import { type ProofRig, proofRig } from './rigs.js'
import type { Run } from './run.js'
import { FAULT_AT, type ScriptName, scripted } from './scripts.js'

/** Seeds on which thresholds may be set, and those that nobody looks at before they are frozen. */
export const SETS = { tuning: 0, 'held-out': 1_000_000 } as const
export type SetName = keyof typeof SETS

/** An entry that is tried on a rig of its own. */
interface OwnRig {
  readonly name: string
  readonly level: Level
}

export type Job =
  | { readonly kind: 'clean'; readonly seed: number }
  /** The same run as one with something wrong, without it: what is found here too is not put down to the wrong. */
  | {
      readonly kind: 'twin'
      readonly script: ScriptName
      readonly seed: number
      readonly on?: OwnRig
      readonly afloat?: true
    }
  | { readonly kind: 'fault'; readonly name: string; readonly level: Level; readonly seed: number }
  | { readonly kind: 'driver'; readonly name: string; readonly level: Level; readonly seed: number }

export const keyOf = (job: Job): string => {
  if (job.kind === 'clean') return `clean ${job.seed}`
  if (job.kind === 'twin') {
    const { script, seed, on, afloat } = job
    if (afloat) return `twin ${script} ${seed}, afloat`
    return on === undefined ? `twin ${script} ${seed}` : `twin ${script} ${seed}, ${on.name} ${on.level}`
  }
  return `${job.kind} ${job.name} ${job.level} ${job.seed}`
}

/** The run that an entry's run is held against. */
export function twinOf(job: Extract<Job, { kind: 'fault' | 'driver' }>): Job {
  const { name, level, seed } = job
  if (job.kind === 'fault') {
    const { script = 'ahead', plant } = faultOf(name)
    return { kind: 'twin', script, seed, ...(plant === 'afloat' ? { afloat: true } : {}) }
  }
  const { script, rig } = driverOf(name)
  return rig === undefined
    ? { kind: 'twin', script, seed }
    : { kind: 'twin', script, seed, on: { name, level } }
}

/** s that a run goes on after the time by which a fault should be found: a stop, and what comes after it. */
const AFTERWARDS = 4

/** s: what is told at the end of a run alone is not waited for. */
const MOST_AWAITED = 20

export interface Extent {
  readonly set: SetName
  /** Clean runs, and seeds of each entry at each severity. */
  readonly clean: number
  readonly seeds: number
}

/** In the order in which they are run. */
export function jobsOf({ set, clean, seeds }: Extent): Job[] {
  const first = SETS[set]
  const each = Array.from({ length: seeds }, (_, i) => first + i + 1)
  const tried = (['fault', 'driver'] as const).flatMap((kind) =>
    (kind === 'fault' ? FAULT_ENTRIES : DRIVERS).flatMap(({ name }) =>
      LEVELS.flatMap((level) => each.map((seed) => ({ kind, name, level, seed }))),
    ),
  )
  const twins = new Map(tried.map(twinOf).map((twin) => [keyOf(twin), twin]))
  return [
    ...twins.values(),
    ...tried,
    ...Array.from({ length: clean }, (_, i): Job => ({ kind: 'clean', seed: first + i + 1 })),
  ]
}

/** @param root folder of the checkout */
export function runOf(job: Job, root: string): Run {
  const { seed } = job
  const common = { seed, tolerances: seed }
  switch (job.kind) {
    case 'clean': {
      const rig = proofRig(root, rigOfSeed(seed))
      return { ...common, rig, scenario: cleanScenario(rig, seed).scenario }
    }
    case 'twin': {
      const { script, on, afloat } = job
      const plain = proofRig(root, 'skiff')
      const rig = on === undefined ? plain : ownRig(plain, driverOf(on.name), on.level)
      const scenario = scripted(rig, script, seed)
      return { ...common, rig, scenario: afloat ? { ...scenario, plant: 'afloat' } : scenario }
    }
    case 'fault': {
      const rig = proofRig(root, 'skiff')
      const entry = faultOf(job.name)
      const severity = severityOf(entry, rig, job.level)
      const faults = entry.faults(rig, severity, FAULT_AT)
      const scenario = scripted(rig, entry.script ?? 'ahead', seed, faults)
      const bound = entry.detectWithin(rig, severity)
      const duration = FAULT_AT + Math.min(bound, MOST_AWAITED) + AFTERWARDS
      const { plant = scenario.plant } = entry
      return { ...common, rig, scenario: { ...scenario, plant, duration } }
    }
    case 'driver': {
      const entry = driverOf(job.name)
      const plain = proofRig(root, 'skiff')
      const severity = severityOf(entry, plain, job.level)
      const rig = ownRig(plain, entry, job.level)
      const scenario = scripted(rig, entry.script, seed)
      return { ...common, rig, scenario, driver: entry.driver(rig, severity, seed) }
    }
  }
}

function ownRig(plain: ProofRig, entry: DriverEntry, level: Level): ProofRig {
  return { ...plain, ...entry.rig?.(plain, severityOf(entry, plain, level)) }
}

function faultOf(name: string): FaultEntry {
  const entry = FAULT_ENTRIES.find((e) => e.name === name)
  if (!entry) throw new Error(`no fault ${name}`)
  return entry
}

export function driverOf(name: string): DriverEntry {
  const entry = DRIVERS.find((e) => e.name === name)
  if (!entry) throw new Error(`no driver ${name}`)
  return entry
}

export function severityOf(
  entry: Pick<FaultEntry, 'severities'> | Pick<DriverEntry, 'severities'>,
  rig: ProofRig,
  level: Level,
): number {
  return entry.severities(rig)[LEVELS.indexOf(level)]!
}
