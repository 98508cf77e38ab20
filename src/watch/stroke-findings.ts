/** The stroke watch's findings in words. */
import type { Finding } from '../files/event.js'
import { showBeside, showQuantity } from '../units.js'
import { BAND_NAMES, type Band } from './stroke-bands.js'

type Told = Omit<Finding, 'watch' | 'place' | 't' | 'stop'>

const WORDS: Readonly<Record<Band, readonly [why: string, look: string]>> = {
  length: [
    'A stroke of another length gives other thrust than planned, or takes the arm where nobody has looked.',
    "Look at the driver's stroke length and at the zeros of the joints that swing the blade.",
  ],
  cadence: [
    'The craft will not go as fast as it is told, and the mount is shaken at another frequency.',
    'Look at how the driver turns side speed into cadence, and at its clock and control period.',
  ],
  ratio: [
    'A recovery that takes too long costs way, one that is too short jerks at the mount and takes water along.',
    "Look at the driver's recovery, and at where in it the blade is lifted and lowered.",
  ],
  catch: [
    'A blade that bites too late or too deep gives other thrust than planned.',
    "Look at where in the driver's stroke the blade is lowered, at immersion and waterline, and at the joints that lift.",
  ],
  exit: [
    'A blade that leaves the water too late lifts water and pulls the craft down; one that leaves too early gives no thrust.',
    "Look at where in the driver's stroke the blade is lifted, at immersion and waterline, and at the joints that lift.",
  ],
  catchAngle: [
    'A blade that is turned aside slips, and pushes the craft sideways.',
    'Look at the zero and sign of the joint that feathers, and at when the driver has turned the blade back.',
  ],
  exitAngle: [
    'A blade that is turned aside slips, and pushes the craft sideways.',
    'Look at the zero and sign of the joint that feathers, and at when the driver begins to turn the blade.',
  ],
  recoveryAngle: [
    'A blade that is not feathered as planned meets wind and waves, or strikes the water when it is turned the wrong way.',
    "Look at the driver's feather angle, and at the zero and sign of the joint that feathers.",
  ],
}

/** A whole stroke off what is asked. @param off in the unit of the band's limit */
export function outOfBand(
  band: Band,
  severity: Finding['severity'],
  measured: number,
  asked: number,
  off: number,
  limit: number,
): Told {
  const [name, unit, offUnit] = BAND_NAMES[band]
  const [why, look] = WORDS[band]
  const [is, should] = showBeside(measured, asked, unit)
  return {
    severity,
    quantity: name,
    value: off,
    limit,
    unit: offUnit,
    says: `Under a steady command the ${name} was ${is} instead of ${should}.`,
    why,
    look,
  }
}

export function tooDeep(depth: number, limit: number): Told {
  return {
    severity: 'failure',
    quantity: 'immersion',
    value: depth,
    limit,
    unit: 'm',
    says: "The blade went deeper under the water's surface than the stroke asks for.",
    why: 'It can strike the ground, the floor of the bench or its own limits, and loads the arm more than was reckoned with.',
    look: 'Look at immersion and waterline in the driver, then at the joints that lift the blade: setpoint, following error, zero.',
  }
}

export function inWater(clearance: number): Told {
  return {
    severity: 'failure',
    quantity: 'lowest edge above the water on the recovery',
    value: clearance,
    limit: 0,
    unit: 'm',
    says: 'The blade was not out of the water on its way back.',
    why: 'It pulls the craft against the command, and trips the arm at full speed.',
    look: 'Look at the clearance of the driver, whether it lifts the blade at all, and at the joints that lift it.',
  }
}

export function tooLow(severity: Finding['severity'], clearance: number, limit: number): Told {
  return {
    severity,
    quantity: 'lowest edge above the water on the recovery',
    value: clearance,
    limit,
    unit: 'm',
    says: 'The blade passed lower over the water on its way back than the stroke asks for.',
    why: 'The next wave, or a heel of the craft, has it in the water.',
    look: 'Look at the clearance of the driver, the feather angle, and the joints that lift the blade.',
  }
}

export function notLifted(clearance: number): Told {
  return {
    severity: 'failure',
    quantity: 'lowest edge above the water at rest',
    value: clearance,
    limit: 0,
    unit: 'm',
    says: 'The side was asked for nothing, and its blade stayed in the water.',
    why: 'It brakes and turns the craft while nobody steers, and catches in whatever drifts by.',
    look: 'Look whether the driver lifts its blade at rest, and at how long it waits before it does.',
  }
}

/** @param away m */
export function notParked(away: number): Told {
  return {
    severity: 'failure',
    quantity: 'way from the park place at rest',
    value: away,
    limit: 0,
    unit: 'm',
    says: 'The side was asked for nothing, and its blade did not go back to where it had stood before its first stroke.',
    why: 'A blade that stands out at its catch or exit is in the way, and the next stroke begins where nobody expects it.',
    look: 'Look whether the driver parks its blade at rest, and at how long it waits before it does.',
  }
}

export function noStroke(severity: Finding['severity'], waited: number, limit: number, time: number): Told {
  return {
    severity,
    quantity: 'time without a stroke',
    value: waited,
    limit,
    unit: 's',
    says: `Under a steady command the blade did not pass the middle of its stroke; one stroke takes ${showQuantity(time, 's')}.`,
    why: 'A side that does not stroke turns the craft, and the command is not what it does.',
    look: 'Look whether the driver gets the command, whether it has given up, and at the length of its stroke.',
  }
}
