/**
 * What the stopping watch can find, as findings without place and time. The stop has been latched by then: none of them asks
 * for another one.
 */
import type { Finding } from '../files/event.js'
import type { ReportedState } from '../wire/observation.js'

export type StopFinding = Omit<Finding, 'watch' | 'place' | 't'>

/** @param after s since the stop; @param window s, of the sag */
export function doubt(says: string, after: number, window: number): StopFinding {
  return {
    severity: 'doubt',
    quantity: 'feedback after the stop',
    value: after,
    limit: window,
    unit: 's',
    says,
    why: 'A stop that was not seen to its end has not been shown to work.',
    look: 'Look whether bus and drives keep their power in a stop, and repeat the run.',
    stop: null,
  }
}

/** @param after s since the stop; @param deadline s */
export function notStill(after: number, deadline: number): StopFinding {
  return {
    severity: 'failure',
    quantity: 'time to still',
    value: after,
    limit: deadline,
    unit: 's',
    says: 'The joint was not still in time after the stop.',
    why: 'A stop that does not end in time does not protect anybody.',
    look: 'Look at quick-stop deceleration (6085h) and option code (605Ah), then at the brake.',
    stop: null,
  }
}

/** @param says what the bench said when it gave the held stop up; @param after s since the stop; @param deadline s */
export function gaveUpHolding(says: string, after: number, deadline: number): StopFinding {
  return {
    severity: 'failure',
    quantity: 'time to the end of the held stop',
    value: after,
    limit: deadline,
    unit: 's',
    says: `${says[0]!.toUpperCase()}${says.slice(1)}; an emergency stop took its place.`,
    why: 'A held stop that does not hold leaves the arms where nobody planned them to be.',
    look: 'Look whether this drive was enabled and followed, then at its load and its feedback.',
    stop: null,
  }
}

/** @param after s since the stop; @param deadline s */
export function stillEnabled(state: ReportedState, after: number, deadline: number): StopFinding {
  return {
    severity: 'failure',
    quantity: 'drive state after the stop',
    value: after,
    limit: deadline,
    unit: 's',
    says:
      state === 'unknown'
        ? 'The drive says a state after the stop that the standard does not define.'
        : `The drive still says ${state} after the stop.`,
    why: 'A drive that keeps its torque can move again.',
    look: 'Look whether the controlword reaches this drive, and at its option code (605Ah).',
    stop: null,
  }
}

/** @param after s since the stop; @param limit s; @param severity a warning where it is late, and has not failed yet */
export function disobeyed(after: number, limit: number, severity: 'warning' | 'failure'): StopFinding {
  return {
    severity,
    quantity: 'time to obey the stop',
    value: after,
    limit,
    unit: 's',
    says: 'The drive was told to stop quickly, and went on saying operation enabled.',
    why: 'What stopped this joint was that its setpoints ceased; a drive that does not obey a stop may do anything else.',
    look: 'Look whether the controlword reaches this drive, at its option code (605Ah), and who else sends it controlwords.',
    stop: null,
  }
}

/** @param travel rad; @param reach rad, from speed and ramp */
export function tooFar(travel: number, reach: number): StopFinding {
  return {
    severity: 'failure',
    quantity: 'travel to still',
    value: travel,
    limit: reach,
    unit: 'rad',
    says: 'The joint went on for longer after the stop than its speed and its quick-stop ramp explain.',
    why: 'Whoever stands beside an arm counts on the way that it takes to stop.',
    look: 'Look at quick-stop deceleration (6085h) and torque limit of this drive, at its reaction to a fault (605Eh), then at its brake.',
    stop: null,
  }
}

/**
 * @param sag rad, from where the joint came to rest, or from where its drive let go of it
 * @param resting no stop: the run is over and the drives are off; @param brakes the rig states that brakes hold
 */
export function sagged(sag: number, limit: number, resting: boolean, brakes: boolean): StopFinding {
  return {
    severity: resting && !brakes ? 'warning' : 'failure',
    quantity: 'sag',
    value: sag,
    limit,
    unit: 'rad',
    says: resting ? 'The joint sagged once its drive was off.' : 'The joint sagged after the stop.',
    why: 'An arm that sinks without power hits what is below it.',
    look: 'Look at the brake of this joint, and at what the arm hangs on.',
    stop: null,
  }
}

/** @param motion rad */
export function moved(motion: number, limit: number): StopFinding {
  return {
    severity: 'failure',
    quantity: 'motion after the stop',
    value: motion,
    limit,
    unit: 'rad',
    says: 'The joint moved although it had come to rest after the stop.',
    why: 'After a stop nothing may move before a new start: people come near the arms then.',
    look: 'Look who sent setpoints or an enable after the stop, then at the brake.',
    stop: null,
  }
}
