/**
 * Random numbers from named, seeded streams: one a subsystem, so that adding a fault does not reshuffle the others.
 *
 * Generator: xoshiro128** (Blackman and Vigna, "Scrambled linear pseudorandom number generators", ACM TOMS 47(4),
 * 2021), seeded through splitmix32 from the FNV-1a hash of the stream's name and the run's seed.
 */

export interface RandomStream {
  /** Uniform in [0, 1), 32 bits. */
  uniform(): number
  /** Normal, mean 0, standard deviation 1. */
  normal(): number
}

/** @param seed the run's seed, a whole number; @param name the subsystem, such as `plant port.swing` */
export function randomStream(seed: number, name: string): RandomStream {
  let hash = 0x811c9dc5
  for (const char of `${seed}/${name}`) hash = Math.imul(hash ^ char.codePointAt(0)!, 0x01000193)
  const split = (): number => {
    hash = (hash + 0x9e3779b9) | 0
    let z = hash
    z = Math.imul(z ^ (z >>> 16), 0x21f0aaad)
    z = Math.imul(z ^ (z >>> 15), 0x735a2d97)
    return (z ^ (z >>> 15)) | 0
  }
  let a = split()
  let b = split()
  let c = split()
  let d = split()
  const next = (): number => {
    const five = Math.imul(b, 5)
    const result = Math.imul((five << 7) | (five >>> 25), 9) >>> 0
    const t = b << 9
    c ^= a
    d ^= b
    b ^= c
    a ^= d
    c ^= t
    d = (d << 11) | (d >>> 21)
    return result
  }
  const uniform = (): number => next() / 4294967296
  return {
    uniform,
    normal: () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform()),
  }
}
