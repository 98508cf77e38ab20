/** The commands under which an entry is tried: shapes of a run whose speeds and times come from the seed. */

import type { Rig } from '../../src/files/rig.js'
import type {
  Expectation,
  OperatorAction,
  Scenario,
  TimedCommand,
  TimedFault,
} from '../../src/files/scenario.js'
import { type RandomStream, randomStream } from '../../src/random.js'
import { fastest, LEAST_SHARE } from './driver-entry.js'

const SCRIPTS = [
  'ahead', // both sides ahead, at speeds of their own
  'straight', // both sides ahead, at one speed
  'half', // ahead at less than half of the greatest speed
  'turn', // one side much faster than the other
  'there and back', // ahead, then astern, without a ramp
  'pause', // ahead, nothing, ahead
  'anew', // ahead, a stop by the operator, a new start, nothing for a while, ahead
  'stopped', // ahead, a stop by the operator
] as const

export type ScriptName = (typeof SCRIPTS)[number]

/** s: the first command of every script, and the time at which a fault begins. */
export const BEGINS = 0.5
export const FAULT_AT = 5

const within = (random: RandomStream, low: number, high: number): number =>
  low + (high - low) * random.uniform()

/** What a script comes to on a rig with a seed; it expects nothing that could fail for want of strokes. */
export function scripted(
  rig: Rig,
  name: ScriptName,
  seed: number,
  faults: readonly TimedFault[] = [],
): Scenario {
  const random = randomStream(seed, `commands ${name}`)
  const { duration, commands, operator } = shape(rig, name, random)
  const [stop] = operator
  return {
    name,
    about: name,
    duration,
    plant: 'dry',
    commands,
    faults,
    operator,
    expect: stop === undefined ? { outcome: 'finish', strokes: [], parked: false } : stopped(stop.at),
  }
}

/** The operator's stop is what the scenario waits for: the run goes on after it. */
function stopped(at: number): Expectation {
  return {
    outcome: 'stop',
    by: 'operator',
    category: null,
    joint: null,
    bus: null,
    after: at,
    within: 0.1,
    still: 2,
    noMotion: false,
  }
}

interface Shape {
  readonly duration: number
  readonly commands: readonly TimedCommand[]
  readonly operator: readonly OperatorAction[]
}

function shape(rig: Rig, name: ScriptName, random: RandomStream): Shape {
  const most = fastest(rig)
  const speed = (low: number, high: number): number => most * within(random, low, high)
  const go = (at: number, port: number, starboard: number, over = 0): TimedCommand => ({
    at,
    over,
    ...bySideSpeeds(rig, port, starboard),
  })
  const ahead = (): [number, number] => [speed(LEAST_SHARE, 0.95), speed(LEAST_SHARE, 0.95)]
  const over = within(random, 0, 0.5)
  const plain = (duration: number, ...commands: TimedCommand[]): Shape => ({
    duration,
    commands,
    operator: [],
  })
  switch (name) {
    case 'ahead':
      return plain(18, go(BEGINS, ...ahead(), over))
    case 'straight': {
      const v = speed(LEAST_SHARE, 0.95)
      return plain(18, go(BEGINS, v, v, over))
    }
    case 'half':
      return plain(20, go(BEGINS, speed(0.3, 0.45), speed(0.3, 0.45), over))
    case 'turn': {
      const [slow, fast] = [speed(0.3, 0.45), speed(0.8, 0.95)]
      return plain(18, random.uniform() < 0.5 ? go(BEGINS, slow, fast, over) : go(BEGINS, fast, slow, over))
    }
    case 'there and back': {
      const [port, starboard] = ahead()
      const back = speed(LEAST_SHARE, 0.95)
      return plain(16, go(BEGINS, port, starboard), go(within(random, 7, 8), -back, -back))
    }
    case 'pause': {
      const [first, second] = [ahead(), ahead()]
      return plain(
        19,
        go(BEGINS, ...first, over),
        go(within(random, 7, 8), 0, 0),
        go(within(random, 13, 14), ...second, over),
      )
    }
    case 'stopped':
      return {
        duration: 10,
        commands: [go(BEGINS, ...ahead(), over)],
        operator: [{ at: within(random, 4, 5), action: 'stop' }],
      }
    case 'anew': {
      const [first, second] = [ahead(), ahead()]
      const stop = within(random, 4, 5)
      return {
        duration: 20,
        commands: [go(BEGINS, ...first, over), go(15, ...second, over)],
        operator: [
          { at: stop, action: 'stop' },
          { at: stop + 2, action: 'release' },
          { at: stop + 2.5, action: 'reset' },
          { at: stop + 3, action: 'start' },
        ],
      }
    }
  }
}

/** Surge and yaw rate that ask the sides for these speeds (m/s). */
export function bySideSpeeds(rig: Rig, port: number, starboard: number): { surge: number; yaw: number } {
  return { surge: (port + starboard) / 2, yaw: (starboard - port) / rig.craft.track }
}
