/**
 * The simulated arms of a rig: one simulated drive a joint, each with its own port on its bus.
 *
 * Dry, joints move each for itself: no gravity by pose, no coupling, no water. Afloat, arms, blades and craft move as one
 * mechanism (afloat.ts). One supply feeds them all. Not modelled: collisions; wiring shared by joints.
 */
import type { Bus } from '../bus/contract.js'
import type { Nanos, Scheduler } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import { isCia402, isFrames, type Rig } from '../files/rig.js'
import type { Afloat } from './afloat.js'
import type { Plant } from './contract.js'
import { SimulatedDrive } from './device.js'
import { ArmFaults } from './faults/arm-faults.js'
import { FramesDevice } from './frames-device.js'
import { Supply } from './supply.js'

/** What the plant needs to know of a rig. */
export type PlantRig = Pick<Rig, 'joints' | 'buses' | 'simulation' | 'control' | 'link'> & {
  readonly arms: readonly Pick<Rig['arms'][number], 'side' | 'joints'>[]
  /** Where joints differ in what they are simulated with; left out: all as `simulation` says. */
  readonly simulationOf?: (joint: Rig['joints'][number]) => Rig['simulation']
}

/**
 * Powers the arms on now; each CANopen node sends its boot-up message some milliseconds later.
 * @param attach makes a new place, with its own transmit queue, on bus number `bus`; the name is the joint's
 * @param seed of the run: noise and jitter come from the streams `plant <joint>`, faults from `fault <joint>`
 * @param afloat the craft and its water, made of the same rig for this plant alone; null: dry
 * @throws DrystrokeError `defect` for a joint whose protocol has no simulated drive
 */
export function createPlant(
  rig: PlantRig,
  scheduler: Scheduler,
  attach: (bus: number, name: string) => Bus,
  seed: number,
  afloat: Afloat | null = null,
): Plant {
  const supply = new Supply(rig.simulation.supply)
  const drives = rig.joints.map((joint) => {
    const port = attach(joint.wire.bus, joint.name)
    const own = rig.simulationOf ? { ...rig, simulation: rig.simulationOf(joint) } : rig
    if (isFrames(joint)) return new FramesDevice(own, joint, scheduler, port, seed, afloat, supply)
    if (isCia402(joint)) {
      const { reports } = rig.buses[joint.wire.bus]!
      return new SimulatedDrive(own, joint, scheduler, port, seed, afloat, supply, reports)
    }
    throw new DrystrokeError('defect', `${joint.name} speaks no protocol that can be simulated`)
  })
  const faults = new ArmFaults(drives, rig.arms, scheduler)
  return {
    fault: (fault, on) => faults.fault(fault, on),
    witness(t: Nanos, out: Float64Array): void {
      for (let i = 0; i < drives.length; i++) out[i] = drives[i]!.position(t)
    },
    powered: (joint) => drives[joint]!.powered,
    craft: afloat?.craft.state ?? null,
  }
}
