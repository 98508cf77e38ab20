/**
 * The separation distance of a protective device from a hazard after ISO 13855:2010 (the edition is part of the answer), for
 * detection capabilities up to 40 mm: S = K T + C, C = 8 (d - 14 mm) and not below nothing; K = 2000 mm/s, or, where that
 * gives more than 500 mm, 1600 mm/s with at least 500 mm; never less than 100 mm. Formulae quoted from secondary copies.
 *
 * T is the overall stopping time of the hard-wired stop, from the device's answer to the last part at rest. A person has
 * measured it, and entered it in the guided test of that stop on real arms or stated it in the rig; it comes from nowhere
 * else: the class below has no other way in, so that the time of a stop by bus, or of simulated arms, cannot be put in its
 * place.
 */
import { DrystrokeError } from '../errors.js'
import type { EnteredStop } from '../files/rig.js'

export const EDITION = 'ISO 13855:2010'

export const SEPARATION_CAUTION =
  'An aid, not an assessment: it rests on the stopping time stated above and on one formula. Local rules and people licensed to judge them decide about the distance, the protective device and the edition of the standard that holds.'

/** What the guided test of the hard-wired stop leaves, when a person has entered what an instrument read. */
export interface HardWiredStopTest {
  readonly stop: 'hard-wired'
  readonly arms: 'real'
  /** s, from the moment the stop was actuated to the last part at rest */
  readonly overall: number
  /** By whom, when, and how it was measured. */
  readonly confirmed: string
}

export class OverallStop {
  // A private field: nothing that merely looks like this class is accepted in its place.
  readonly #time: number
  readonly origin: 'measured' | 'entered'
  /** Who vouches for it, and how they know. */
  readonly source: string

  private constructor(time: number, origin: OverallStop['origin'], source: string) {
    this.#time = time
    this.origin = origin
    this.source = source
  }

  /** s */
  get time(): number {
    return this.#time
  }

  static entered({ time, entered }: EnteredStop): OverallStop {
    return new OverallStop(time, 'entered', entered)
  }

  static measured({ overall, confirmed }: HardWiredStopTest): OverallStop {
    return new OverallStop(overall, 'measured', confirmed)
  }

  /** Of what the rig states and what the guided test left, the longer time; null: neither. */
  static of(entered: EnteredStop | null, test: HardWiredStopTest | null): OverallStop | null {
    if (test !== null && (entered === null || test.overall >= entered.time)) return OverallStop.measured(test)
    return entered === null ? null : OverallStop.entered(entered)
  }
}

/** Where a time comes from, in words. */
export const ORIGIN: Readonly<Record<OverallStop['origin'], string>> = {
  measured: 'entered in its guided test',
  entered: 'stated in the rig',
}

export interface Separation {
  readonly edition: typeof EDITION
  /** m */
  readonly distance: number
  /** m/s, the approach speed that decided */
  readonly speed: 1.6 | 2
  /** m, added for what gets through before it is detected */
  readonly intrusion: number
  /** What lifted the distance to it, or null. */
  readonly least: '500 mm' | '100 mm' | null
}

const MOST_DETECTION = 0.04
/** Sums of decimal fractions: 500 mm to the last bit is not more than 500 mm. */
const ROUNDING = 1e-9

/**
 * @param detection m, the device's detection capability d
 * @throws DrystrokeError `usage` where the formula does not hold
 */
export function separation(overall: OverallStop, detection: number): Separation {
  if (!(detection > 0 && detection <= MOST_DETECTION + ROUNDING)) {
    throw new DrystrokeError(
      'usage',
      `A detection capability of ${showMillimetres(detection)}: expected more than 0 mm and at most 40 mm; beyond that ${EDITION} has other formulae, which are not worked out here: ask people licensed to judge it`,
    )
  }
  if (!(overall.time > 0 && Number.isFinite(overall.time)))
    throw new DrystrokeError('usage', `An overall stopping time of ${overall.time} s: expected more than 0 s`)
  const intrusion = Math.max(0, 8 * (detection - 0.014))
  const fast = 2 * overall.time + intrusion
  const common = { edition: EDITION, intrusion } as const
  if (fast > 0.5 + ROUNDING) {
    const slow = 1.6 * overall.time + intrusion
    const lifted = slow < 0.5
    return { ...common, speed: 1.6, distance: lifted ? 0.5 : slow, least: lifted ? '500 mm' : null }
  }
  const lifted = fast < 0.1
  return { ...common, speed: 2, distance: lifted ? 0.1 : fast, least: lifted ? '100 mm' : null }
}

/** Whole millimetres, rounded up: `512 mm`. @param length m */
export function showMillimetres(length: number): string {
  return `${Math.ceil(1000 * length - 1e-6)} mm`
}
