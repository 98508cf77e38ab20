/** A driver that owns the buses, in a run of the proof: when its wrong comes up, and where it would have the blades. */
import type { MockBus } from '../../src/bus/mock.js'
import type { VirtualTime } from '../../src/clock.js'
import type { Rig } from '../../src/files/rig.js'
import { DriverBeside } from '../setup/driver-beside.js'
import type { Beat } from './driver-entry.js'

export interface Owned {
  /** It is no process of the run's own. */
  readonly elsewhere: boolean
  /** Left out: it is a sound one. */
  readonly wrong?: (driver: DriverBeside, beat: Beat) => boolean
}

export class OwnedRun {
  readonly beside: DriverBeside
  /** ns, of the beat from which something is wrong; null: nothing is yet */
  differsAt: number | null = null
  /** It has led the arms to its start, and they follow its strokes. */
  #followed = false
  /** ns */
  #stoppedAt: number | null = null

  /** @param scenarioTime s, null before scenario zero */
  constructor(
    rig: Rig,
    time: VirtualTime,
    mocks: readonly MockBus[],
    { elsewhere, wrong }: Owned,
    scenarioTime: () => number | null,
  ) {
    const beside = new DriverBeside({ rig, time, mocks, ours: !elsewhere })
    this.beside = beside
    beside.onBeat = () => {
      const { order } = beside.driver
      const played = order === 'follow' ? scenarioTime() : null
      if (played !== null) this.#followed = true
      if (this.#followed && order === 'stop') this.#stoppedAt ??= beside.now
      const stopped = this.#stoppedAt === null ? null : (beside.now - this.#stoppedAt) / 1e9
      if (wrong?.(beside, { played, stopped })) this.differsAt ??= beside.now
    }
  }

  /** rad, its setpoints of this period; null: none that a sound driver would have. */
  get sound(): Float64Array | null {
    const { driver } = this.beside
    return driver.leading && driver.order === 'follow' ? driver.out : null
  }
}
