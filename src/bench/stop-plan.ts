/**
 * Where the stops of a rig out of one motion are measured: at shares of its greatest speed, at places spread evenly over one
 * stroke. Each is a scenario of its own, that a real rig can play as well. The driver is stepped as the bench steps it, so
 * that the time of the stop in the scenario and the place in the stroke belong together.
 */
import { ReferenceDriver } from '../driver/reference.js'
import type { Rig } from '../files/rig.js'
import { portSpeed, starboardSpeed } from '../motion/side-speeds.js'
import type { StopMotion } from '../verdict/stop-table.js'
import { Player } from './player.js'
import { commandOf, directionOf } from './stop-motions.js'

/** ISO 10218-1:2011, Annex B: 33, 66 and 100 % of speed. */
export const SHARES = [0.33, 0.66, 1] as const

export interface PlannedStop {
  readonly motion: StopMotion
  /** Of the greatest side speed. */
  readonly share: number
  /** m/s, of each side, as commanded; without sign */
  readonly speed: number
  /** 0..1 at the stop, of the port side (starboard where there is no arm on port) */
  readonly phase: number
  /** s, scenario time */
  readonly at: number
  /** Text of the scenario file. */
  readonly text: string
}

const RAMP_AT = 0.5
const RAMP = 1
const SAID: Record<StopMotion, string> = {
  ahead: 'ahead',
  astern: 'astern',
  'pivot-to-port': 'turning to port on the spot',
  'pivot-to-starboard': 'turning to starboard on the spot',
}
/** s after the stop until the scenario is over, on top of time-out and sag window */
const AFTERWARDS = 0.5

/**
 * @param fastest m/s, 100 %; @param phases how many stops at each speed
 * @throws DrystrokeError `unreachable`, `usage` for a pivot that no scenario may command
 */
export function planStops(rig: Rig, motion: StopMotion, fastest: number, phases: number): PlannedStop[] {
  // Before anything is worked out: is the fastest one possible?
  commandOf(rig, motion, fastest)
  return SHARES.flatMap((share) => {
    const speed = share * fastest
    return placesOf(rig, motion, speed, phases).map(({ phase, at }, i) => ({
      motion,
      share,
      speed,
      phase,
      at,
      text: scenarioText(rig, { motion, share, speed, phase, at }, i + 1),
    }))
  })
}

/** The first ticks in the first whole stroke at full speed at which each place has been reached. */
function placesOf(
  rig: Rig,
  motion: StopMotion,
  speed: number,
  phases: number,
): { phase: number; at: number }[] {
  const { period } = rig.control
  const driver = new ReferenceDriver(rig)
  const lead = rig.arms.some((a) => a.side === 'port') ? 'port' : 'starboard'
  const side = driver.sides[lead]
  const command = commandOf(rig, motion, speed)
  const speedOf = lead === 'port' ? portSpeed : starboardSpeed
  // Astern the phase runs back.
  const direction = Math.sign(speedOf(command.surge, command.yaw, rig.craft.track))
  const commands = [{ at: RAMP_AT, ...command, over: RAMP }]
  const player = new Player({ commands, faults: [], operator: [], duration: Number.POSITIVE_INFINITY })
  const out = new Float64Array(rig.joints.length)
  // The ramp, and what the driver's own limits add to it; then one stroke more.
  const { acceleration, jerk, slip } = rig.driver
  const steady = RAMP_AT + RAMP + (speed * (1 + slip)) / acceleration + (2 * acceleration) / jerk
  const places: { phase: number; at: number }[] = []
  let settled = 0
  let next = 0
  let way = 0
  let before = side.phase
  // The bench steps the driver once a tick, from the tick after scenario zero on.
  for (let n = 1; places.length < phases; n++) {
    driver.step(player.command(n * period), out)
    const moved = direction * (side.phase - before)
    const step = moved - Math.round(moved)
    before = side.phase
    if (n * period < steady) continue
    settled += step
    if (settled < 1) continue
    if (way * phases >= next) {
      // What is due in a tick comes before the driver's step of that tick.
      places.push({ phase: side.phase, at: (n + 1) * period })
      next++
    }
    way += step
  }
  return places
}

function scenarioText(
  rig: Rig,
  { motion, share, speed, phase, at }: Omit<PlannedStop, 'text'>,
  nth: number,
): string {
  const percent = Math.round(100 * share)
  const { category, timeout, still, sagWindow } = rig.stop
  const within = (s: number): string => `"${Math.round(1000 * s)} ms"`
  const sign = directionOf(motion)
  const { yaw, surge } = commandOf(rig, motion, speed)
  // A share is told as one, so that the rig may change; of a turn there is none.
  const told = rig.stroke.fastest === null || sign.surge === 0 ? `${surge} m/s` : `${sign.surge * percent} %`
  const ends = at + timeout + still.hold + sagWindow + AFTERWARDS
  return `name: stop-${motion}-${percent}-${String(nth).padStart(2, '0')}
about: Operator stop at phase ${phase.toFixed(3)} of the stroke, ${SAID[motion]} at ${percent} % of the greatest speed of ${rig.name}.
duration: "${Math.ceil(ends)} s"
commands:
  - { at: "${RAMP_AT} s", surge: "${told}", yaw: "${(yaw * 180) / Math.PI} deg/s", over: "${RAMP} s" }
operator:
  - { at: "${Number(at.toFixed(6))} s", do: stop }
expect:
  outcome: stop
  by: operator
  category: ${category}
  within: "20 ms"
  still: ${within(timeout + still.hold)}
  no-motion: true
`
}
