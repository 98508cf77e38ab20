/**
 * Lines in a power spectral density: frequencies that stand out of what surrounds them, and how large the swing is that makes each.
 *
 * The floor at a frequency is the median density of the bins around it, those of the line itself left out. A line is a bin above both
 * its neighbours and above the floor times a ratio; its frequency comes from the parabola through the logarithms of the three (a Hann window's main lobe is nearly
 * one: J. C. Brown, M. S. Puckette, JASA 94 (1993), from memory), its amplitude from the power in its main lobe, floor taken off.
 */

export interface SpectralLine {
  /** Hz */
  readonly frequency: number
  /** Of the swing, either way from its middle, in the signal's unit. */
  readonly amplitude: number
  /** Density over that of the floor around it. */
  readonly ratio: number
}

/** Bins either way over which the main lobe of a Hann window reaches. */
const LOBE = 2
/** Bins either way, beyond the lobe, of which the floor is the median. */
const AROUND = 12

/**
 * @param density as `Welch.density` gives it; @param step Hz, between two frequencies of it
 * @param least times the floor, from which a bin is a line; @param from Hz, lowest frequency that is looked at
 */
export function spectralLines(
  density: Float64Array,
  step: number,
  least: number,
  from: number,
): SpectralLine[] {
  const lines: SpectralLine[] = []
  const first = Math.max(LOBE + 1, Math.ceil(from / step))
  for (let k = first; k < density.length - 1 - LOBE; k++) {
    const here = density[k]!
    if (!(here > density[k - 1]! && here >= density[k + 1]!)) continue
    const floor = floorAround(density, k)
    if (!(here > least * floor)) continue
    let power = 0
    for (let i = k - LOBE; i <= k + LOBE; i++) power += density[i]! - floor
    lines.push({
      frequency: (k + peakOf(density[k - 1]!, here, density[k + 1]!)) * step,
      amplitude: Math.sqrt(2 * Math.max(0, power) * step),
      ratio: here / floor,
    })
  }
  return lines
}

/** Power between two frequencies (Hz), by the bins from the first to before the second. */
export function bandPower(density: Float64Array, step: number, from: number, to: number): number {
  let power = 0
  for (let k = Math.ceil(from / step); k < density.length && k * step < to; k++) power += density[k]!
  return power * step
}

function floorAround(density: Float64Array, k: number): number {
  const around: number[] = []
  for (let i = Math.max(1, k - LOBE - AROUND); i <= Math.min(density.length - 1, k + LOBE + AROUND); i++)
    if (Math.abs(i - k) > LOBE) around.push(density[i]!)
  around.sort((a, b) => a - b)
  const middle = around.length / 2
  return (around[Math.floor(middle)]! + around[Math.ceil(middle) - 1]!) / 2
}

/** Bins from the middle one to the top of the parabola through three logarithms. */
function peakOf(before: number, here: number, after: number): number {
  const [a, b, c] = [Math.log(before), Math.log(here), Math.log(after)]
  const bend = a - 2 * b + c
  return bend < 0 ? (a - c) / (2 * bend) : 0
}
