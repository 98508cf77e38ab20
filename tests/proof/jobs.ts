/** All runs of a proof, as jobs that are small enough to be sent to a worker by name. */
import { cleanScenario, rigOfSeed } from './clean.js'
import { type BrokenDriver, type DriverEntry, LEVELS, type Level, type OwnerEntry } from './driver-entry.js'
import { DRIVERS } from './drivers/catalogue.js'
import { OWNER_ENTRIES } from './drivers/owners.js'
import { FAULT_ENTRIES, type FaultEntry } from './faults.js'
import { type ProofRig, proofRig, type RigName } from './rigs.js'
import type { Run } from './run.js'
import { FAULT_AT, type ScriptName, scripted } from './scripts.js'

/** Seeds on which thresholds may be set, and those that nobody looks at before they are frozen. */
export const SETS = { tuning: 0, 'held-out': 1_000_000 } as const
export type SetName = keyof typeof SETS

/** A driver that is tried on a rig of its own making. */
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
      /** Left out: the demo skiff. */
      readonly rig?: RigName
      readonly afloat?: true
    }
  | Tried

/** What is wrong: a fault, a driver, or a driver that owns the buses. */
export const KINDS = ['fault', 'driver', 'owner'] as const
export type Kind = (typeof KINDS)[number]

export interface Tried {
  readonly kind: Kind
  readonly name: string
  readonly level: Level
  readonly seed: number
}

export const keyOf = (job: Job): string => {
  if (job.kind === 'clean') return `clean ${job.seed}`
  if (job.kind === 'twin') {
    const { script, seed, on, rig, afloat } = job
    const own = on && `${on.name} ${on.level}`
    return [`twin ${script} ${seed}`, afloat && 'afloat', rig, own].filter((s) => s !== undefined).join(', ')
  }
  return `${job.kind} ${job.name} ${job.level} ${job.seed}`
}

/** The run that an entry's run is held against. */
export function twinOf({ kind, name, level, seed }: Tried): Job {
  switch (kind) {
    case 'fault': {
      const { script = 'ahead', plant, rig } = faultOf(name)
      return {
        ...{ kind: 'twin', script, seed },
        ...(rig ? { rig } : {}),
        ...(plant === 'afloat' ? { afloat: true } : {}),
      }
    }
    case 'owner':
      return { kind: 'twin', script: ownerOf(name).script, seed, rig: 'owned' }
    case 'driver': {
      const { script, rig } = driverOf(name)
      return rig === undefined
        ? { kind: 'twin', script, seed }
        : { kind: 'twin', script, seed, on: { name, level } }
    }
  }
}

/** All that is tried of a kind. */
export const ENTRIES = { fault: FAULT_ENTRIES, driver: DRIVERS, owner: OWNER_ENTRIES } as const

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
  const tried = KINDS.flatMap((kind) =>
    ENTRIES[kind].flatMap(({ name }) =>
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
      const { script, on, afloat, rig: name = 'skiff' } = job
      const plain = proofRig(root, name)
      const rig = on === undefined ? plain : ownRig(plain, driverOf(on.name), on.level)
      const scenario = scripted(rig, script, seed)
      return {
        ...{ ...common, rig, scenario: afloat ? { ...scenario, plant: 'afloat' } : scenario },
        ...(name === 'owned' ? { owned: { elsewhere: false } } : {}),
      }
    }
    case 'fault': {
      const entry = faultOf(job.name)
      const rig = proofRig(root, entry.rig ?? 'skiff')
      const severity = severityOf(entry, rig, job.level)
      const faults = entry.faults(rig, severity, FAULT_AT)
      const scenario = scripted(rig, entry.script ?? 'ahead', seed, faults)
      const duration = longEnough(entry.detectWithin(rig, severity))
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
    case 'owner': {
      const entry = ownerOf(job.name)
      const rig = proofRig(root, 'owned')
      const severity = severityOf(entry, rig, job.level)
      const scenario = scripted(rig, entry.script, seed)
      const duration = longEnough(entry.detectWithin(rig, severity))
      const owned = { elsewhere: entry.elsewhere ?? false, wrong: entry.wrong(rig, severity) }
      return { ...common, rig, scenario: { ...scenario, duration }, owned }
    }
  }
}

/** s that a script goes on in which something goes wrong. @param bound s, by when it should be found */
const longEnough = (bound: number): number => FAULT_AT + Math.min(bound, MOST_AWAITED) + AFTERWARDS

function ownRig(plain: ProofRig, entry: DriverEntry, level: Level): ProofRig {
  return { ...plain, ...entry.rig?.(plain, severityOf(entry, plain, level)) }
}

function named<E extends { readonly name: string }>(kind: Kind, entries: readonly E[], name: string): E {
  const entry = entries.find((e) => e.name === name)
  if (!entry) throw new Error(`no ${kind} ${name}`)
  return entry
}

const faultOf = (name: string): FaultEntry => named('fault', FAULT_ENTRIES, name)
export const driverOf = (name: string): DriverEntry => named('driver', DRIVERS, name)
const ownerOf = (name: string): OwnerEntry => named('owner', OWNER_ENTRIES, name)

export function severityOf(
  entry: Pick<FaultEntry, 'severities'> | Pick<BrokenDriver, 'severities'>,
  rig: ProofRig,
  level: Level,
): number {
  return entry.severities(rig)[LEVELS.indexOf(level)]!
}
