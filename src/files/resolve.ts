/** From what stands in a file to what the system works with: indices for names, counts per radian, one frame of names. */
import { resolveDriver } from './driver-schema.js'
import { resolveFault } from './faults/form.js'
import type { FrameMap, MapFrame } from './frame-map.js'
import type { Share } from './quantity.js'
import type {
  Arm,
  BusSettings,
  ClearanceSettings,
  Joint,
  LinkSettings,
  MotionSettings,
  Rig,
  SimulationSettings,
  StopSettings,
} from './rig.js'
import type { RigForm } from './rig-schema.js'
import type { Expectation, Scenario } from './scenario.js'
import type { ScenarioForm } from './scenario-schema.js'

const TURN = 2 * Math.PI

/** @param form checked by schema and references: every name in it exists */
export function resolveRig(form: RigForm): Rig {
  const buses = form.buses.map(
    ({ 'serial-rate': serialRate, controlword, reports, ...bus }, index): BusSettings => ({
      ...bus,
      index,
      serialRate,
      controlword: controlword ?? null,
      reports: reports ?? null,
      owner: 'owns-bus' in form.driver && form.driver['owns-bus'] ? 'driver' : 'harness',
    }),
  )
  const joints: Joint[] = []
  const arms = form.arms.map((arm, index): Arm => {
    const first = joints.length
    for (const joint of arm.joints)
      joints.push(resolveJoint(joint, `${arm.name}.${joint.name}`, joints.length, index, form))
    return {
      index,
      name: arm.name,
      side: arm.side,
      base: arm.base,
      joints: arm.joints.map((_, i) => first + i),
      tool: { pose: arm.tool, ...arm.blade },
      paddle: arm.paddle,
      payload: arm.payload,
    }
  })
  const { rate } = form.control
  return {
    name: form.name,
    about: form.about,
    craft: form.craft,
    water: form.water ?? null,
    hull: form.hull ?? null,
    mount: form.mount ?? null,
    battery: form.battery ?? null,
    control: { rate, period: 1 / rate },
    buses,
    arms,
    joints,
    stroke: { ...form.stroke, fastest: form.stroke.fastest ?? null },
    driver: resolveDriver(form.driver),
    motion: resolveMotion(form.motion, joints),
    clearance: form.clearance ? resolveClearance(form.clearance, joints) : null,
    link: resolveLink(form.link),
    stop: resolveStop(form.stop),
    stopBox: form['stop-box'] ?? null,
    guardian: form.guardian,
    realtime: {
      late: form.realtime.late,
      mostLate: form.realtime['most-late'],
      fifo: form.realtime.fifo,
      processor: form.realtime.processor ?? null,
    },
    watch: form.watch,
    simulation: resolveSimulation(form.simulation, joints, form.battery?.voltage),
  }
}

function resolveJoint(
  { origin, axis, limits, body, train, rating, wire }: RigForm['arms'][number]['joints'][number],
  name: string,
  index: number,
  arm: number,
  { buses, 'frame-maps': maps }: RigForm,
): Joint {
  const [lower, upper] = limits.position
  const { speed, acceleration, torque } = limits
  return {
    index,
    name,
    arm,
    origin,
    axis,
    limits: { lower, upper, speed, acceleration, torque },
    body: body ?? null,
    train,
    rating: rating
      ? {
          continuous: rating.continuous,
          peak: rating.peak ?? torque,
          warmUp: rating['warm-up'] ?? null,
        }
      : null,
    wire:
      wire.protocol === 'frames'
        ? {
            protocol: 'frames',
            bus: indexOf(buses, wire.bus),
            node: wire.node,
            ...resolveFrames(maps.find((m) => m.name === wire.map)!, wire),
          }
        : {
            protocol: 'cia402',
            bus: indexOf(buses, wire.bus),
            node: wire.node,
            countsPerRadian: wire['counts-per-turn'] / TURN,
            sign: wire.sign,
            zero: wire.zero,
            ratedTorque: wire['rated-torque'],
          },
  }
}

function resolveMotion(form: RigForm['motion'], joints: readonly Joint[]): MotionSettings {
  return {
    speedCap: form['speed-cap'],
    tipSpeed: form['tip-speed'],
    via: form.via.map((pose) => Float64Array.from(joints, ({ name }) => pose[name]!)),
    confirmedFor: form['confirmed-for'],
  }
}

function resolveClearance(
  { 'keep-out': keepOut, 'left-out': leftOut, links, ...form }: NonNullable<RigForm['clearance']>,
  joints: readonly Joint[],
): ClearanceSettings {
  return {
    ...form,
    links: joints.map(({ name }) => links[name]!),
    keepOut: keepOut.map(({ name, parts }) => ({
      name,
      parts: parts.map((part) => {
        if (part.shape === 'capsule') return part
        const { rounding: radius, ...box } = part
        return { ...box, radius }
      }),
    })),
    leftOut,
  }
}

/** Position = sign (scale x number + offset - zero), as a scale in counts. @param zero rad, the drive's own position */
function resolveFrames(map: FrameMap, { sign, zero }: { sign: 1 | -1; zero: number }) {
  const scaleOf = (frame: MapFrame) => {
    const { scale, offset } = frame.signals.find((s) => s.is === 'position')!
    const turned = scale > 0 ? sign : sign === 1 ? -1 : 1
    return { countsPerRadian: 1 / Math.abs(scale), sign: turned, zero: (zero - offset) / scale } as const
  }
  return { map, turns: sign, ...scaleOf(map.feedback), setpoint: scaleOf(map.setpoint) }
}

function resolveLink(form: RigForm['link']): LinkSettings {
  return {
    ourHeartbeat: form['our-heartbeat'],
    driveHeartbeat: form['drive-heartbeat'],
    heartbeatTimeout: form['heartbeat-timeout'],
    window: form.window,
    windowTimeout: form['window-timeout'],
    quickStop: form['quick-stop'],
    torqueShare: form['torque-share'],
    patience: form.patience,
    replyWithin: form['reply-within'],
    approach: form.approach,
    staleAfter: form['stale-after'],
  }
}

function resolveStop({ 'sag-window': sagWindow, overall, ...rest }: RigForm['stop']): StopSettings {
  return { ...rest, sagWindow, overall: overall ?? null }
}

/** V of a supply of which nothing is said. */
const USUAL_SUPPLY = 48

function resolveSimulation(
  form: RigForm['simulation'],
  joints: readonly Joint[],
  battery: number | undefined,
): SimulationSettings {
  return {
    ...form,
    supply: { ...form.supply, voltage: form.supply.voltage ?? battery ?? USUAL_SUPPLY },
    joints: joints.map(({ name }) => {
      const { 'counts-per-turn': countsPerTurn, sign, zero, start } = form.joints[name]!
      return { countsPerRadian: countsPerTurn / TURN, sign, zero, start }
    }),
  }
}

/** @param form checked by schema and references against the same rig */
export function resolveScenario(form: ScenarioForm, rig: Rig): Scenario {
  const faults = form.faults.map((fault) => resolveFault(fault, rig)).sort((a, b) => a.at - b.at)
  const operator = form.operator.map(({ at, do: action }) => ({ at, action }))
  // A fault that is there from the start counts from the beginning of the scenario.
  const causes = [...faults, ...operator.filter(({ action }) => action === 'stop')].map(({ at }) =>
    Math.max(0, at),
  )
  return {
    name: form.name,
    about: form.about,
    duration: form.duration,
    plant: form.plant ?? rig.simulation.plant,
    commands: form.commands.map((c) =>
      c.ceases
        ? { at: c.at, surge: 0, yaw: 0, over: 0, ceases: true }
        : { at: c.at, surge: speedOf(c.surge, rig), yaw: c.yaw, over: c.over },
    ),
    faults,
    operator,
    expect: resolveExpectation(form.expect, rig, Math.min(...causes)),
  }
}

/** @param cause s, first fault or operator stop; Infinity if there is none, and then the file states `after` */
function resolveExpectation(form: ScenarioForm['expect'], rig: Rig, cause: number): Expectation {
  if (form.outcome === 'finish') {
    const strokes = form.strokes.map((s) => ({ ...s, arm: indexOf(rig.arms, s.arm) }))
    return { outcome: 'finish', strokes, parked: form.parked }
  }
  return {
    outcome: 'stop',
    by: form.by,
    category: form.category ?? null,
    joint: form.joint === undefined ? null : indexOf(rig.joints, form.joint),
    bus: form.bus === undefined ? null : indexOf(rig.buses, form.bus),
    after: form.after ?? cause,
    within: form.within,
    still: form.still,
    noMotion: form['no-motion'],
  }
}

/** Shares are of the rig's greatest side speed; a file with one is refused where the rig states none. */
function speedOf(surge: number | Share, { stroke }: Rig): number {
  return typeof surge === 'number' ? surge : surge.share * stroke.fastest!
}

function indexOf(list: readonly { readonly name: string }[], name: string): number {
  return list.findIndex((entry) => entry.name === name)
}
