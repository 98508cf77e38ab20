/**
 * The separation distance of a protective device from a hazard after ISO 13855:2010 (the edition is part of the answer), for
 * detection capabilities up to 40 mm: S = K T + C, C = 8 (d - 14 mm) and not below nothing; K = 2000 mm/s, or, where that
 * gives more than 500 mm, 1600 mm/s with at least 500 mm; never less than 100 mm. Formulae quoted from secondary copies.
 *
 * T is the overall stopping time of the hard-wired stop, from the device's answer to the last part at rest. It comes from the
 * guided test of that stop on real arms or from a person, and from nowhere else: the class below has no other way in, so that
 * the time of a stop by bus, or of simulated arms, cannot be put in its place.
 */
import { DrystrokeError } from '../errors.js'
import type { EnteredStop } from '../files/rig.js'

export const EDITION = 'ISO 13855:2010'

export const SEPARATION_CAUTION =
  'An aid, not an assessment: it rests on the stopping time stated above and on one formula. Local rules and people licensed to judge them decide about the distance, the protective device and the edition of the standard that holds.'

/** What the guided test of the hard-wired stop leaves. */
export interface HardWiredStopTest {
  readonly stop: 'hard-wired'
  readonly arms: 'real'
  /** s, from the press to the last joint at rest */
  readonly overall: number
  /** When and by whom. */
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
