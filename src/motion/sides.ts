/** The two sides together: each at its own cadence, or in step. */
import type { StrokeSettings } from '../files/rig.js'
import { SideMotion, type SideSettings } from './side.js'

/** How far the unstable point of the pull is moved off half a cycle, where a coupled start would otherwise be stuck. */
const WARP = 0.1

export class SidePair {
  readonly port: SideMotion
  readonly starboard: SideMotion
  readonly #mode: StrokeSettings['sides']
  readonly #knee: number

  constructor(mode: StrokeSettings['sides'], settings: SideSettings) {
    this.#mode = mode
    this.#knee = settings.cadence.knee
    this.port = new SideMotion(settings)
    this.starboard = new SideMotion(settings)
  }

  begin(): void {
    this.port.begin()
    this.starboard.begin()
  }

  get parked(): boolean {
    return this.port.state === 'parked' && this.starboard.state === 'parked'
  }

  /** One control period. @param portSpeed m/s; @param starboardSpeed m/s */
  step(portSpeed: number, starboardSpeed: number): void {
    const fastest = Math.max(Math.abs(portSpeed), Math.abs(starboardSpeed))
    const pull = this.#pull()
    this.port.step(portSpeed, fastest, pull)
    this.starboard.step(starboardSpeed, fastest, -pull)
  }

  /** -1..1, positive when port is ahead of its place beside starboard. Smooth, also as either side passes zero speed. */
  #pull(): number {
    if (this.#mode === 'free') return 0
    const u = this.port.fullSpeed
    const v = this.starboard.fullSpeed
    // An astern stroke runs backwards about the middle of the drive: seen so, both sides' phases grow.
    const port = u < 0 ? 0.5 - this.port.phase : this.port.phase
    const starboard = v < 0 ? 0.5 - this.starboard.phase : this.starboard.phase
    const ahead = 2 * Math.PI * (port - starboard - (this.#mode === 'alternating' ? 0.5 : 0))
    const gate = Math.tanh(u / this.#knee) ** 2 * Math.tanh(v / this.#knee) ** 2
    return gate * Math.sin(ahead + Math.PI * WARP * (1 - Math.cos(ahead)))
  }
}
