/**
 * What setpoints asked of each joint lately: the greatest speed and acceleration between setpoints one period apart, of the last one or two
 * stretches of RECENT. A joint that does more was not asked to.
 */
const RECENT = 0.1

export class Asked {
  readonly #period: number
  readonly #stretch: number
  readonly #joints: Joint[]

  /** @param period s, of control */
  constructor(joints: number, period: number) {
    this.#period = period
    this.#stretch = Math.max(1, Math.round(RECENT / period))
    this.#joints = Array.from({ length: joints }, () => new Joint())
  }

  /** @param position rad, setpoint that acts at SYNC `index` */
  see(j: number, index: number, position: number): void {
    const s = this.#joints[j]!
    const stretch = Math.floor(index / this.#stretch)
    if (stretch !== s.stretch) {
      const follows = stretch === s.stretch + 1
      s.before = follows ? s.now : [0, 0]
      s.now = [0, 0]
      s.stretch = stretch
    }
    s.row = index === s.index + 1 ? s.row + 1 : 1
    const way = position - s.position
    if (s.row >= 2) s.now[0] = Math.max(s.now[0], Math.abs(way) / this.#period)
    if (s.row >= 3) s.now[1] = Math.max(s.now[1], Math.abs(way - s.way) / this.#period ** 2)
    s.way = way
    s.index = index
    s.position = position
  }

  /** rad/s or rad/s2; NaN: no setpoint of this joint has been seen */
  most(j: number, quantity: 'speed' | 'acceleration'): number {
    const { index, now, before } = this.#joints[j]!
    const which = quantity === 'speed' ? 0 : 1
    return index < 0 ? Number.NaN : Math.max(now[which], before[which])
  }
}

class Joint {
  index = -1
  /** Setpoints in a row, one for each SYNC. */
  row = 0
  position = 0
  /** rad, from the setpoint before */
  way = 0
  stretch = -1
  /** Speed and acceleration, of this stretch and of the one before. */
  now: [number, number] = [0, 0]
  before: [number, number] = [0, 0]
}
