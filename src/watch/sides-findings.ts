/** The findings of the watch of the two sides in words. */
import type { Finding } from '../files/event.js'
import { showQuantity } from '../units.js'

type Told = Omit<Finding, 'watch' | 'place' | 't'>

export function outOfStep(severity: Finding['severity'], ahead: number, limit: number, came: boolean): Told {
  const size = showQuantity(Math.abs(ahead), 'share')
  const who = ahead > 0 ? 'port' : 'starboard'
  return {
    severity,
    quantity: 'phase between the sides',
    value: Math.abs(ahead),
    limit,
    unit: 'share',
    says: came
      ? `The sides had been in step, and then ${who} was ahead of its place by ${size} of a stroke.`
      : `The sides did not come into step: ${who} was ahead of its place by ${size} of a stroke.`,
    why: 'The blades pull one after the other where they should pull together, or the other way round: the craft swings, and the mounts bear other loads than planned.',
    look: "Look at how the driver couples its sides, at what it does where a phase begins anew, and at 'stroke.sides' of the rig.",
    stop: null,
  }
}

/** @param drift and @param limit strokes a minute */
export function drifting(severity: Finding['severity'], drift: number, limit: number): Told {
  const who = drift > 0 ? 'Port' : 'Starboard'
  return {
    severity,
    quantity: 'drift between the sides',
    value: Math.abs(drift),
    limit,
    unit: 'none',
    says: `${who} gained ${showQuantity(Math.abs(drift), 'none')} strokes a minute on the other side beyond what the command asks for.`,
    why: 'One side strokes faster than its command: the craft turns, and no two minutes of a trip are alike.',
    look: 'Look at the clock and control period of each side in the driver, and at how it turns side speed into cadence.',
    stop: null,
  }
}

export function swapped(value: number, limit: number, unit: 'm' | 'm/s', stop: Finding['stop']): Told {
  return {
    severity: 'failure',
    quantity: 'sides swapped',
    value,
    limit,
    unit,
    says: 'Each blade did what was asked of the other side.',
    why: 'The craft turns the wrong way at every yaw command.',
    look: "Look at the yaw sign and the sides in the driver, at 'side' of each arm in the rig, and at which bus is plugged in where.",
    stop,
  }
}
