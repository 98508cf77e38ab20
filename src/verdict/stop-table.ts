/**
 * Many stops at one speed, summed up: the worst, and mean + 3 sigma. Sigma is the sample standard deviation (n - 1) over
 * places in the stroke, which is a spread and no noise: the bound says nothing of places between them. Category, speed and
 * shares of it as ISO 10218-1:2011, Annex B, has them (quoted from secondary copies).
 */
import type { Verdict } from './verdict.js'

/** One stop, and where in the stroke it came. */
export interface MeasuredStop {
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
  readonly phase: number
  readonly at: number
  /** Of the joint or arm that it was greatest of; null: not all of it was seen. */
  readonly timeToStill: Greatest | null
  readonly jointTravel: Greatest | null
  readonly bladeTravel: Greatest | null
}

export type Measure = 'timeToStill' | 'jointTravel' | 'bladeTravel'
export const MEASURES: readonly Measure[] = ['timeToStill', 'jointTravel', 'bladeTravel']

export interface Summary {
  readonly measure: Measure
  readonly n: number
  readonly worst: Greatest & { readonly phase: number; readonly at: number }
  readonly mean: number
  /** Null with fewer than two stops. */
  readonly meanPlus3Sigma: number | null
}

const FIGURE: Record<Measure, string> = {
  timeToStill: 'time to still',
  jointTravel: 'travel to still',
  bladeTravel: 'blade travel to still',
}

export function figuresOf({ phase, at, verdict }: MeasuredStop): StopFigures {
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
    return g === null ? [] : [{ ...g, phase: s.phase, at: s.at }]
  })
  if (seen.length === 0) return null
  const n = seen.length
  const mean = seen.reduce((sum, g) => sum + g.value, 0) / n
  const squares = seen.reduce((sum, g) => sum + (g.value - mean) ** 2, 0)
  return {
    measure,
    n,
    worst: seen.reduce((most, g) => (g.value > most.value ? g : most)),
    mean,
    meanPlus3Sigma: n < 2 ? null : mean + 3 * Math.sqrt(squares / (n - 1)),
  }
}
