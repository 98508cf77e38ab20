/**
 * How smooth one movement is, from its speed profile: spectral arc length and log dimensionless jerk. Both are numbers below zero
 * without unit, independent of the movement's size; nearer to zero is smoother.
 *
 * Spectral arc length (SPARC): length of the curve of the profile's amplitude spectrum, its peak made 1, from zero up to the last frequency
 * below 10 Hz at which it is 0.05 or more, the frequencies made 0..1; padded with zeros to 2^4 times the next power of two.
 * Log dimensionless jerk (LDLJ): -ln(T^3 / v^2 sum of (second difference / dt^2)^2 dt), v the peak speed and T = N dt.
 * Sources: S. Balasubramanian, A. Melendez-Calderon, E. Burdet, IEEE Trans. Biomed. Eng. 59(8), 2012; S. Balasubramanian et al., J.
 * NeuroEng. Rehab. 12:112, 2015. Discrete values hang on the sample rate and on whether the end point is among the samples: profiles here
 * are taken at `profileStride`, from the first sample after a reversal to the last before the next one.
 */
import { RealFft } from './fft.js'

/** Hz, near which the profiles' rate is: that of the published values. */
const PROFILE_RATE = 100
/** Hz, highest frequency of the arc. */
const CUT_OFF = 10
const THRESHOLD = 0.05
const PAD_LEVEL = 4

/** Control periods from one sample of a profile to the next: as many as bring its rate nearest to 100 Hz. @param rate Hz, of control */
export function profileStride(rate: number): number {
  return Math.max(1, Math.round(rate / PROFILE_RATE))
}

/**
 * -ln of the dimensionless jerk. @param speed profile, any unit, evenly sampled; @param n samples of it that count
 * @returns NaN for fewer than three samples or no motion; Infinity for a profile without any jerk
 */
export function logDimensionlessJerk(speed: Float64Array, n: number): number {
  let peak = 0
  let squared = 0
  for (let i = 0; i < n; i++) {
    if (Math.abs(speed[i]!) > peak) peak = Math.abs(speed[i]!)
    if (i < 2) continue
    const jerk = speed[i]! - 2 * speed[i - 1]! + speed[i - 2]!
    squared += jerk * jerk
  }
  if (n < 3 || peak === 0) return Number.NaN
  // T^3 / v^2 x sum of (difference / dt^2)^2 x dt, with T = n dt: the sample period falls out.
  return -Math.log((n ** 3 * squared) / peak ** 2)
}

/** Spectral arc length of profiles of any length up to a greatest one; allocated once. */
export class SpectralArc {
  readonly #rate: number
  /** [exponent of the number of samples] */
  readonly #transforms: RealFft[] = []

  /** @param most samples of the longest profile; @param rate Hz */
  constructor(most: number, rate: number) {
    this.#rate = rate
    for (let e = 2; 2 ** e < 2 * most; e++) this.#transforms[e] = new RealFft(2 ** (e + PAD_LEVEL))
  }

  /** @param speed profile, zeros from sample `n` on; @returns NaN without motion, or for a profile longer than said */
  of(speed: Float64Array, n: number): number {
    const fft = this.#transforms[Math.max(2, Math.ceil(Math.log2(n)))]
    if (fft === undefined || n < 2) return Number.NaN
    fft.transform(speed)
    return arcLength(fft, this.#rate)
  }
}

function arcLength({ re, im, samples }: RealFft, rate: number): number {
  const step = rate / samples
  let peak = 0
  for (let k = 0; k < re.length; k++) {
    const size = Math.hypot(re[k]!, im[k]!)
    if (size > peak) peak = size
  }
  if (peak === 0) return Number.NaN
  const highest = Math.min(re.length - 1, Math.floor(CUT_OFF / step))
  let first = 0
  while (first < highest && Math.hypot(re[first]!, im[first]!) < THRESHOLD * peak) first++
  let last = highest
  while (last > first && Math.hypot(re[last]!, im[last]!) < THRESHOLD * peak) last--
  let arc = 0
  for (let k = first + 1, before = Math.hypot(re[first]!, im[first]!); k <= last; k++) {
    const size = Math.hypot(re[k]!, im[k]!)
    arc += Math.hypot(1 / (last - first), (size - before) / peak)
    before = size
  }
  return -arc
}
