/**
 * Many stops at one speed, summed up: the worst over all motions, and mean + 3 sigma of each motion. Sigma is the sample
 * standard deviation (n - 1) over places in the stroke of one motion (two motions in one mean would be no spread of either),
 * which is no noise: the bound says nothing of places between them. Category, speed and
 * shares of it as ISO 10218-1:2011, Annex B, has them (quoted from secondary copies).
 */
import type { Verdict } from './verdict.js'

/** What the craft is told to do when it is stopped; a pivot turns it on the spot. */
export type StopMotion = 'ahead' | 'astern' | 'pivot-to-port' | 'pivot-to-starboard'

/** One stop, and where in the stroke it came. */
export interface MeasuredStop {
  readonly motion: StopMotion
  /** 0..1 of the stroke, at the stop */
  readonly phase: number
  /** s, scenario time of the stop */
  readonly at: number
  readonly verdict: Verdict
}

export interface Greatest {
  /** s, rad or m */
  readonly value: number
  /** Joint or arm. */
  readonly place: string
}

export interface StopFigures {
  readonly motion: StopMotion
  readonly phase: number
  readonly at: number
  /** Of the joint or arm that it was greatest of; null: not all of it was seen. */
  readonly timeToStill: Greatest | null
  readonly jointTravel: Greatest | null
  readonly bladeTravel: Greatest | null
}

export type Measure = 'timeToStill' | 'jointTravel' | 'bladeTravel'
export const MEASURES: readonly Measure[] = ['timeToStill', 'jointTravel', 'bladeTravel']

/** The stops of one motion. */
export interface Spread {
  readonly motion: StopMotion
  readonly n: number
  readonly mean: number
  /** Null with fewer than two stops. */
  readonly meanPlus3Sigma: number | null
}

export interface Summary {
  readonly measure: Measure
  /** Over all motions. */
  readonly worst: Greatest & { readonly motion: StopMotion; readonly phase: number; readonly at: number }
  /** The greatest of all motions; null where no motion has one. */
  readonly meanPlus3Sigma: number | null
  readonly spreads: readonly Spread[]
}

const FIGURE: Record<Measure, string> = {
  timeToStill: 'time to still',
  jointTravel: 'travel to still',
  bladeTravel: 'blade travel to still',
}

export function figuresOf({ motion, phase, at, verdict }: MeasuredStop): StopFigures {
  const rows = verdict.watches.find((w) => w.watch === 'stopping')?.figures ?? []
  const still = verdict.stop !== null && verdict.stop.toStill !== null
  const greatest = (measure: Measure): Greatest | null => {
    // Where one joint was not seen to come to rest, what the others did is no stop.
    if (!still) return null
    return rows
      .filter((f) => f.name === FIGURE[measure])
      .reduce<Greatest | null>((most, f) => (most === null || f.value > most.value ? f : most), null)
  }
  return {
    motion,
    phase,
    at,
    timeToStill: pick(greatest('timeToStill')),
    jointTravel: pick(greatest('jointTravel')),
    bladeTravel: pick(greatest('bladeTravel')),
  }
}

function pick(g: Greatest | null): Greatest | null {
  return g && { value: g.value, place: g.place }
}

/** @returns null where no stop gave this figure */
export function summarise(measure: Measure, stops: readonly StopFigures[]): Summary | null {
  const seen = stops.flatMap((s) => {
    const g = s[measure]
    return g === null ? [] : [{ ...g, motion: s.motion, phase: s.phase, at: s.at }]
  })
  if (seen.length === 0) return null
  const motions = [...new Set(seen.map((g) => g.motion))]
  const spreads = motions.map((motion) => {
    return {
      motion,
      ...spreadOf(seen.filter((g) => g.motion === motion).map((g) => g.value)),
    }
  })
  const bounds = spreads.flatMap((s) => s.meanPlus3Sigma ?? [])
  return {
    measure,
    worst: seen.reduce((most, g) => (g.value > most.value ? g : most)),
    meanPlus3Sigma: bounds.length === 0 ? null : Math.max(...bounds),
    spreads,
  }
}

function spreadOf(values: readonly number[]): Omit<Spread, 'motion'> {
  const n = values.length
  const mean = values.reduce((sum, v) => sum + v, 0) / n
  const squares = values.reduce((sum, v) => sum + (v - mean) ** 2, 0)
  return { n, mean, meanPlus3Sigma: n < 2 ? null : mean + 3 * Math.sqrt(squares / (n - 1)) }
}
