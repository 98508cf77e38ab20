/** The safety cautions that stand in every verdict: one place for reports, README and the prompt before real motion. */
import type { PlantKind, Rig } from '../files/rig.js'

export const CAUTIONS = [
  'Drystroke is not a safety device.',
  'A stop sent over a bus is never a safety function. A hard-wired emergency stop that removes power comes first.',
  'Keep clear of the arms whenever they have power, whatever the screen says.',
  'Local rules and people licensed to judge them decide whether and how real arms may move.',
] as const

/** Said wherever the arms were simulated. */
export const SIMULATED_CAUTION =
  'The arms of this run were simulated. Simulated results are no evidence for real arms.'

export const STAND_IN_CAUTION =
  'The arms of this run were a stand-in: simulated by another process, on the buses of the rig. Simulated results are no evidence for real arms.'
/** Beside the one for simulated arms. */
const AFLOAT_CAUTION =
  'The craft of this run was afloat in a simulation: water, hull and the weight of the links are models. How fast it went, and what torques the water asked of the joints, is no evidence for a craft on real water.'
const NOT_AFLOAT =
  "Only arms that are simulated in the bench's own memory can be played afloat: nothing of water or craft was looked at in this run."
const NO_BOX = 'The emergency-stop box of this rig was not read: simulated arms on mock buses need none.'
const NO_WATCHDOG =
  'The drives of this rig do not stop by themselves when heartbeat, SYNC or setpoints cease: nothing stops them if the computer fails.'
const NO_BRAKES = 'The rig states no brakes: without power the arms sink.'
const NO_CLEARANCE =
  'The rig does not say how thick its arms are (clearance): nothing watched whether they came near each other, the craft or people.'
const DRIVER_OWNED =
  'The driver owned the buses: it set the drives up, what it set up was not read back, and no gate held its setpoints back. The harness listened, and could stop.'
const NOT_TO_BE_SILENCED =
  'The driver is no process of the harness and cannot be silenced: after a stop the drives stay without torque only if their quick stop ends in switch on disabled (605Ah 1 to 4) and nobody enables them again.'
const BRAKES_STATED =
  'That brakes hold the unpowered arms is stated in the rig; sag is measured only after a stop.'

/** The general cautions, and those that this rig asks for. @param standIn the arms were a stand-in; @param plant what simulated arms stood on */
export function cautionsFor(rig: Rig, standIn = false, plant: PlantKind = 'dry'): string[] {
  const simulated = rig.buses.every((bus) => bus.address.kind === 'mock')
  return [
    ...CAUTIONS,
    ...(simulated ? [SIMULATED_CAUTION] : []),
    ...(plant === 'afloat' ? [simulated ? AFLOAT_CAUTION : NOT_AFLOAT] : []),
    ...(standIn ? [STAND_IN_CAUTION] : []),
    ...(simulated && rig.stopBox ? [NO_BOX] : []),
    ...(rig.simulation.watchdog ? [] : [NO_WATCHDOG]),
    ...(rig.driver.link?.ownsBus ? [DRIVER_OWNED] : []),
    ...(rig.driver.link?.ownsBus && rig.driver.link.kind !== 'process' ? [NOT_TO_BE_SILENCED] : []),
    ...(rig.clearance ? [] : [NO_CLEARANCE]),
    rig.stop.brakes ? BRAKES_STATED : NO_BRAKES,
  ]
}
