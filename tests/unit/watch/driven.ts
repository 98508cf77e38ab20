/**
 * A transcript of arms that follow a driver: its setpoints, through the closed loop of a servo if one is given, are the feedback of a
 * watch on the demo rig. No bus, no plant: a second of it takes some milliseconds.
 */
import type { Driver } from '../../../src/driver/contract.js'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import type { Finding } from '../../../src/files/event.js'
import { loadRig } from '../../../src/files/load.js'
import type { Rig } from '../../../src/files/rig.js'
import { type LoopSettings, PositionLoop } from '../../../src/plant/servo.js'
import { createWatches } from '../../../src/watch/all.js'
import { type WatchSettings, watchSchemas } from '../../../src/watch/settings.js'
import { DEMO_RIG } from '../../setup/runs.js'
import { scenario } from './rig.js'
import { Transcript } from './transcript.js'

/** A command in force from `at` (s) on: m/s, rad/s. */
export interface Order {
  readonly at: number
  readonly surge: number
  readonly yaw?: number
}

export interface Drive {
  /** Of the rig's file. */
  readonly change?: (text: string) => string
  /** Left out: the reference driver. Given the rig. */
  readonly driver?: (rig: Rig<WatchSettings>) => Driver
  readonly orders: readonly Order[]
  /** s */
  readonly lasts: number
  /** Left out: dry. */
  readonly plant?: 'dry' | 'afloat'
  /** How joints follow; left out: exactly. */
  readonly servo?: LoopSettings
  /** rad, what is reported and what is seen beside the arm instead of where the motor is */
  readonly feedback?: (joint: number, position: number, k: number) => number
  readonly witness?: (joint: number, position: number, k: number) => number
}

/** A reference driver whose stroke is not that of the rig. */
export function strokingOtherwise(change: Partial<Rig['stroke']>): (rig: Rig<WatchSettings>) => Driver {
  return (rig) => new ReferenceDriver({ ...rig, stroke: { ...rig.stroke, ...change } })
}

/** Plays it all; findings are told as they are made, and the watch is closed. */
export function driven(name: keyof WatchSettings, play: Drive) {
  const rig = loadRig(play.change?.(DEMO_RIG) ?? DEMO_RIG, 'rig.yaml', watchSchemas)
  const findings: Finding[] = []
  const watch = createWatches(rig, scenario({ plant: play.plant ?? 'dry' }), (f) =>
    findings.push(f),
  ).list.find((w) => w.name === name)!.watch
  const kinds = new Set<string>(watch.kinds)
  const run = new Transcript(rig, (o) => {
    if (kinds.has(o.kind)) watch.see(o)
  })
  const driver = play.driver?.(rig) ?? new ReferenceDriver(rig)
  const { period } = rig.control
  const loop = play.servo && new PositionLoop(play.servo, period)
  const setpoints = driver.parkPose.slice()
  const before = setpoints.slice()
  const motors = Array.from(setpoints, (position) => ({ position, speed: 0 }))
  const positionAt = (j: number): number => motors[j]!.position
  const report = play.feedback ?? ((_, position) => position)
  const seen = play.witness
  driver.begin()
  run.stage('play')
  let next = 0
  let command = { surge: 0, yaw: 0 }
  for (let k = 0; k < play.lasts / period; k++) {
    const order = play.orders[next]
    const isNew = order !== undefined && k * period >= order.at - 1e-9
    if (isNew) {
      command = { surge: order.surge, yaw: order.yaw ?? 0 }
      next++
    }
    // What is reported in a cycle is where the arms have come to by its SYNC.
    motors.forEach((motor, j) => {
      if (loop) loop.step(motor, before[j]!, setpoints[j]!)
      else motor.position = setpoints[j]!
    })
    before.set(setpoints)
    driver.step(command, setpoints)
    run.cycles(1, {
      command: isNew ? command : null,
      setpoint: (j) => setpoints[j]!,
      given: (j) => setpoints[j]!,
      feedback: (j, cycle) => report(j, positionAt(j), cycle),
      witness: seen ? (j, cycle) => seen(j, positionAt(j), cycle) : null,
    })
  }
  watch.close()
  const figure = (place: string, figureName: string): number => {
    const found = watch.figures().find((f) => f.place === place && f.name === figureName)
    if (found === undefined) throw new Error(`no figure ${figureName} at ${place}`)
    return found.value
  }
  return { rig, watch, findings, figure, figures: watch.figures() }
}
