/** Scenarios whose commands are the same differ by their faults alone: each script is walked once, with all that looks at it. */

import type { ScenarioWalk } from '../bench/scenario-walk.js'
import type { BusTimes } from '../bus/bus-times.js'
import type { MessageUse } from '../bus/messages.js'
import { isCia402, type Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { BladeLook } from './blade-look.js'
import { CadenceLook } from './cadence-look.js'
import { ClearanceLook, type LeastDistance } from './clearance-look.js'
import { MiddleOfThree } from './middle.js'
import { MotionLook, type Wait } from './motion-look.js'
import { TorqueLook } from './torque-look.js'

export interface ScriptLooks {
  readonly scenarios: readonly Scenario[]
  readonly motion: MotionLook
  readonly torque: TorqueLook
  readonly cadence: CadenceLook
  /** null: the rig does not say what its arms are fixed to */
  readonly blade: BladeLook | null
  /** null: the rig does not say how thick its arms are, or there is nothing to come near to */
  readonly least: LeastDistance | null
}

/** @throws DrystrokeError `unreachable` */
export function lookAtScripts(
  rig: Rig,
  scenarios: readonly Scenario[],
  walk: ScenarioWalk,
  waits: readonly Wait[],
): ScriptLooks[] {
  const scripts = new Map<string, Scenario[]>()
  for (const scenario of scenarios) {
    const script = JSON.stringify([scenario.commands, scenario.duration])
    scripts.set(script, [...(scripts.get(script) ?? []), scenario])
  }
  const { clearance } = rig
  const { driver, period } = walk
  return [...scripts.values()].map((mine) => {
    const motion = new MotionLook(rig, waits)
    const torque = new TorqueLook(rig)
    const blade = rig.mount === null ? null : new BladeLook(rig, period)
    const middle = [motion, torque, ...(blade === null ? [] : [blade])]
    const cadence = new CadenceLook(rig, driver)
    const near = clearance === null ? null : new ClearanceLook({ ...rig, clearance })
    const looks = [new MiddleOfThree(rig, driver, period, middle), cadence]
    walk.walk(mine[0]!, near === null ? looks : [...looks, near])
    return { scenarios: mine, motion, torque, cadence, blade, least: near?.least ?? null }
  })
}

/**
 * How long the arms may go on when the harness has died: until each drive's own watch over our heartbeat (1016h) ends, or until the
 * guardian's time-out is over and its stop has come through. The last heartbeat, and the stop, may have taken their worst-case time.
 */
export function waitsOf(rig: Rig, buses: readonly BusTimes[]): Wait[] {
  const worst = (bus: number, name: string, uses: readonly MessageUse[]): number =>
    Math.max(
      ...buses[bus]!.messages.filter(
        ({ from, use, joint }) => from === 'host' && uses.includes(use) && (joint ?? name) === name,
      ).map((m) => m.worst),
    )
  const { link, guardian } = rig
  return [
    {
      who: 'watchdog',
      // What drives that speak frames of their own do by themselves is theirs.
      seconds: Float64Array.from(rig.joints, (joint) =>
        isCia402(joint)
          ? link.heartbeatTimeout + worst(joint.wire.bus, joint.name, ['heartbeat'])
          : Number.NaN,
      ),
    },
    {
      who: 'guardian',
      seconds: Float64Array.from(
        rig.joints,
        ({ wire, name }) => guardian.timeout + worst(wire.bus, name, ['controlword', 'stop']),
      ),
    },
  ]
}
