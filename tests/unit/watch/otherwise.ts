/** The reference driver, told otherwise or telling otherwise: what tests of watches make wrong about a driver. */
import type { Driver } from '../../../src/driver/contract.js'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import type { Rig } from '../../../src/files/rig.js'
import type { Command } from '../../../src/files/scenario.js'

interface Otherwise {
  /** What it hears of a command. @param k periods since its begin */
  readonly hears?: (command: Command, k: number) => Command
  /** Changes its setpoints (rad, rig order) in place. */
  readonly hands?: (out: Float64Array, k: number) => void
  /** What it takes the rig for. */
  readonly rig?: (rig: Rig) => Rig
}

export function otherwise({ hears, hands, rig: taken }: Otherwise): (rig: Rig) => Driver {
  return (rig) => {
    const driver = new ReferenceDriver(taken?.(rig) ?? rig)
    let k = 0
    return {
      parkPose: driver.parkPose,
      get parked() {
        return driver.parked
      },
      begin: () => driver.begin(),
      step(command, out) {
        driver.step(hears?.(command, k) ?? command, out)
        hands?.(out, k++)
      },
    }
  }
}
