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

  /** 1/s: each side's phase rate of the next period, without sign. */
  get nextRates(): { readonly port: number; readonly starboard: number } {
    const pull = this.#pull()
    return { port: this.port.nextRate(pull), starboard: this.starboard.nextRate(-pull) }
  }

  /** @returns what takes both sides back to where they are now */
  keep(): () => void {
    const port = this.port.keep()
    const starboard = this.starboard.keep()
    return () => {
      this.port.restore(port)
      this.starboard.restore(starboard)
    }
  }

  /**
   * One control period.
   * @param portSpeed m/s; @param starboardSpeed m/s; @param pace and @param brake as for SideMotion
   */
  step(portSpeed: number, starboardSpeed: number, pace = 1, brake = 1): void {
    const fastest = Math.max(Math.abs(portSpeed), Math.abs(starboardSpeed))
    const pull = this.#pull()
    this.port.step(portSpeed, fastest, pull, pace, brake)
    this.starboard.step(starboardSpeed, fastest, -pull, pace, brake)
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
