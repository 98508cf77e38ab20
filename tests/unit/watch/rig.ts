/**
 * A rig for the tests of watches and judge: two arms of three joints, invented, with a geometry that is known by hand.
 * `roll` (about x) lifts the blade out sideways, `pitch` (about y) swings it fore and aft, `feather` turns it. The blade's
 * centre is REACH below the base: x = -REACH sin(pitch), height over the base -REACH cos(roll) cos(pitch).
 */
import { z } from 'zod'
import type {
  Arm,
  ClearanceSettings,
  DriveReports,
  Joint,
  MountSettings,
  Rig,
} from '../../../src/files/rig.js'
import type { Scenario } from '../../../src/files/scenario.js'
import { type WatchSettings, watchSchemas } from '../../../src/watch/settings.js'

export const PERIOD = 0.005
export const REACH = 0.8
const COUNTS = 131072 / (2 * Math.PI)
const still = { at: [0, 0, 0], turn: [0, 0, 0] } as const

export type WatchInput = z.input<ReturnType<typeof z.strictObject<typeof watchSchemas>>>

/** What transcripts do with the blades is no stroke of this rig, and is not meant to be: tests of strokes are on the demo rig. */
const ANY_STROKE: WatchInput = {
  stroke: {
    length: '100 %',
    cadence: '1000 %',
    ratio: '1000 %',
    depth: '100 %',
    clearance: '0 %',
    angle: '90 deg',
    wait: 100,
  },
  sides: { phase: '50 %', drift: '100 %' },
  // Nor do they begin when the command comes, or use all joints.
  driver: { react: '10 s' },
  setpoints: { idle: 1000 },
}

function settings(input: WatchInput = {}): WatchSettings {
  return z.strictObject(watchSchemas).parse({ ...ANY_STROKE, ...input })
}

export interface RigChanges {
  readonly watch?: WatchInput
  readonly limits?: Partial<Joint['limits']>
  readonly counts?: number
  readonly noise?: number
  readonly clearance?: ClearanceSettings | null
  readonly mount?: MountSettings | null
  readonly reports?: DriveReports | null
}

export function rig({
  watch,
  limits,
  counts = COUNTS,
  noise = 1,
  clearance = null,
  mount = null,
  reports = null,
}: RigChanges = {}): Rig<WatchSettings> {
  const sides = ['port', 'starboard'] as const
  const parts = [
    { name: 'roll', axis: [1, 0, 0] },
    { name: 'pitch', axis: [0, 1, 0] },
    { name: 'feather', axis: [0, 0, 1] },
  ] as const
  const joints = sides.flatMap((side, arm) =>
    parts.map(
      ({ name, axis }, place): Joint => ({
        index: arm * 3 + place,
        name: `${side}.${name}`,
        arm,
        origin: still,
        axis,
        limits: { lower: -1.5, upper: 1.5, speed: 3, acceleration: 26, torque: 30, ...limits },
        body: null,
        train: { rotor: 0, viscous: 0, coulomb: [0, 0] },
        rating: null,
        wire: {
          protocol: 'cia402',
          bus: arm,
          node: 11 + place,
          countsPerRadian: counts,
          sign: place === 1 ? -1 : 1,
          zero: 1200,
          ratedTorque: 20,
        },
      }),
    ),
  )
  const arms = sides.map(
    (side, index): Arm => ({
      index,
      name: side,
      side,
      base: { at: [0, side === 'port' ? 0.6 : -0.6, 0.3], turn: [0, 0, 0] },
      joints: [index * 3, index * 3 + 1, index * 3 + 2],
      tool: {
        pose: { at: [0, 0, -REACH], turn: [0, 0, 0] },
        normal: [-1, 0, 0],
        shaft: [0, 0, -1],
        constrained: ['x', 'z', 'feather'],
      },
      paddle: { mass: 0.5, area: 0.03, length: 0.2, width: 0.16, flow: { lift: 1.3, drag: 2, added: 0.58 } },
      payload: 1.5,
    }),
  )
  return {
    name: 'test-rig',
    about: 'two arms of three joints',
    craft: { length: 4, mass: 180, track: 2, waterline: 0.3 },
    water: null,
    hull: null,
    mount,
    battery: null,
    control: { rate: 1 / PERIOD, period: PERIOD },
    buses: sides.map((side, index) => ({
      index,
      name: `${side}-can`,
      address: { kind: 'mock' },
      serialRate: 115_200,
      bitrate: 1e6,
      controlword: 0x181,
      owner: 'harness',
      queue: 32,
      reports,
    })),
    arms,
    joints,
    stroke: {
      sides: 'free',
      middle: 0,
      length: 0.4,
      even: 0.7,
      immersion: REACH - 0.6,
      clearance: 0.05,
      feather: 1.4,
      lean: 0,
      recovery: 0.25,
      fastest: null,
      dwell: 1,
    },
    driver: { slip: 0, acceleration: 0.4, jerk: 2, singularity: 0.02, link: null },
    clearance,
    motion: { speedCap: 1, tipSpeed: 0.25, via: [], confirmedFor: 30 * 86400 },
    link: {
      ourHeartbeat: 0.02,
      driveHeartbeat: 0.05,
      heartbeatTimeout: 0.1,
      window: 0.17,
      windowTimeout: 0.1,
      quickStop: 26,
      torqueShare: 0.6,
      patience: 2,
      replyWithin: 0.05,
      approach: 0.15,
      staleAfter: 0.02,
    },
    guardian: { timeout: 0.1 },
    stopBox: null,
    stop: {
      category: 1,
      still: { speed: 0.0105, hold: 0.1 },
      timeout: 1,
      sagWindow: 2,
      sag: 0.0175,
      prove: 'real arms',
      answer: 0.1,
      brakes: true,
      overall: null,
    },
    realtime: { late: 1e-3, mostLate: 3, fifo: true, processor: null },
    watch: settings(watch),
    simulation: {
      joints: joints.map(() => ({ countsPerRadian: counts, sign: 1, zero: 1200, start: 0 })),
      servo: { frequency: 12, damping: 0.8, feedforward: 0.5 },
      feedback: { delay: 1e-4, jitter: 5e-5, noise },
      supply: { voltage: 24, resistance: 0.05 },
      ambient: 20,
      brakes: true,
      sag: 1,
      plant: 'dry',
      watchdog: true,
    },
  }
}

export function scenario(changes: Partial<Scenario> = {}): Scenario {
  return {
    name: 'test-scenario',
    about: 'for the tests',
    duration: 4,
    plant: 'dry',
    commands: [],
    faults: [],
    operator: [],
    expect: { outcome: 'finish', strokes: [], parked: false },
    ...changes,
  }
}
