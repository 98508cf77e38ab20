/** What the watch of feedback says of what it saw, and of what it suspects. */
import type { Finding } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import { showQuantity } from '../units.js'
import { powerOfTwo, wholeTurns } from './counts-jump.js'
import type { Kink } from './feedback-kink.js'
import type { Cause } from './likeness.js'

type Words = Pick<Finding, 'quantity' | 'value' | 'limit' | 'unit' | 'says' | 'why' | 'look'>

/** What feedback was held against. */
export type Against = 'true position' | 'setpoint'

/** What mistakes of units and counts make of an angle. */
const MISTAKES: readonly (readonly [ratio: number, says: string])[] = [
  [180 / Math.PI, 'as if degrees were taken for radians'],
  [Math.PI / 180, 'as if radians were taken for degrees'],
  [2 * Math.PI, 'as if radians were taken for turns'],
  [1 / (2 * Math.PI), 'as if turns were taken for radians'],
  [360, 'as if degrees were taken for turns'],
  [1 / 360, 'as if turns were taken for degrees'],
]
const SAME = 0.03

function mistake(ratio: number): string {
  const size = Math.abs(ratio)
  const known = MISTAKES.find(([r]) => Math.abs(size / r - 1) < SAME)
  if (known) return `, ${known[1]}`
  const power = Math.round(Math.log2(size))
  return power !== 0 && Math.abs(size / 2 ** power - 1) < SAME
    ? ', a power of two: another number of counts a turn'
    : ''
}

const WHY =
  'With a wrong sign, scale or zero, or the feedback of another joint, every other check is worthless.'

/** @param limit what a scale or an offset may be off by, where the finding has one of them */
export function suspected(rig: Rig, j: number, cause: Cause, against: Against): Words {
  const { name } = rig.joints[j]!
  const does = against === 'setpoint' ? 'its setpoint' : 'the joint truly does'
  const should = against === 'setpoint' ? 'its setpoint' : 'its true position'
  const binding = `Look at ${name}'s wire binding`
  switch (cause.kind) {
    case 'partner': {
      const other = rig.joints[cause.partner]!.name
      return {
        ...{ quantity: 'feedback of another joint', value: 1, limit: 0, unit: 'none', why: WHY },
        says:
          against === 'setpoint'
            ? `The feedback of ${name} follows the setpoint of ${other}.`
            : `The feedback of ${name} tells where ${other} truly is.`,
        look: `Look at the node ids and plugs of ${name} and ${other}: they seem to be exchanged.`,
      }
    }
    case 'sign':
      return {
        ...{ quantity: 'feedback sign', value: cause.ratio, limit: 1, unit: 'none', why: WHY },
        says: `The feedback goes against ${should}: it is ${showQuantity(cause.ratio, 'none')} times what it should be, as with a wrong sign.`,
        look: `${binding}: sign.`,
      }
    case 'scale':
      return {
        ...{ quantity: 'feedback scale', value: cause.ratio, limit: 1, unit: 'none', why: WHY },
        says: `The feedback goes ${showQuantity(cause.ratio, 'none')} times as far as ${does}${mistake(cause.ratio)}.`,
        look: `${binding}: counts-per-turn, or the scale in the frame map.`,
      }
    case 'turns':
      return {
        ...{ quantity: 'feedback offset', value: cause.offset, limit: 0, unit: 'rad', why: WHY },
        says: `The feedback lies ${Math.abs(cause.turns)} whole ${Math.abs(cause.turns) === 1 ? 'turn' : 'turns'} (of 2 pi) beside ${should}.`,
        look: `Look whether ${name}'s encoder has lost count of its turns, or wraps where the driver does not.`,
      }
    case 'offset':
      return {
        ...{ quantity: 'feedback offset', value: cause.offset, limit: 0, unit: 'rad', why: WHY },
        says: `The feedback lies ${showQuantity(cause.offset, 'rad')} beside ${should}, wherever the joint is.`,
        look: `${binding}: zero; then whether the encoder has been started anew elsewhere.`,
      }
    case 'scale or offset':
      return {
        ...{ quantity: 'feedback offset', value: cause.offset, limit: 0, unit: 'rad', why: WHY },
        says: `The feedback of the resting joint lies ${showQuantity(cause.offset, 'rad')} beside ${should}, or is ${showQuantity(cause.ratio, 'none')} times what it should be.`,
        look: `${binding}: zero first, then counts-per-turn.`,
      }
  }
}

/** Every joint of an arm that is off tells where its like of another arm is. */
export function swappedArms(own: string, other: string): Words {
  return {
    ...{ quantity: 'feedback of another arm', value: 1, limit: 0, unit: 'none', why: WHY },
    says: `The feedback of the ${own} arm is that of the ${other} arm: the sides are exchanged.`,
    look: `Look at the addresses of the two buses and at which adapter hangs on which arm.`,
  }
}

/** @param size rad, signed @param doubt rad that motion and noise may have of it */
export function leapt(rig: Rig, j: number, size: number, permitted: number, doubt: number): Words {
  const { countsPerRadian } = rig.joints[j]!.wire
  const counts = Math.round(Math.abs(size) * countsPerRadian)
  const power = powerOfTwo(counts, doubt * countsPerRadian)
  const turns = wholeTurns(size, doubt)
  const is = [
    ...(power === null ? [] : [power]),
    ...(turns === 0
      ? []
      : [`${Math.abs(turns)} whole ${Math.abs(turns) === 1 ? 'turn' : 'turns'} (of 2 pi)`]),
  ]
  const what = is.length === 0 ? '' : `, ${is.join(', ')} within what it may have moved`
  return {
    ...{ quantity: 'leap of feedback', value: Math.abs(size), limit: permitted, unit: 'rad' },
    says: `The feedback leapt by ${counts} counts from one frame to the next${what}.`,
    why: 'The joint cannot have gone there: from now on nobody knows where it is.',
    look:
      power === null
        ? "Look at the encoder's supply and cable, and whether it was started anew."
        : 'Look at the length and sign of the position word on its way: a word cut off or extended with the wrong sign, or a counter that wraps.',
  }
}

/** @param value rad/s before, or rad, standard deviation of noise @param limit what a joint could have made of it */
export function kinked(kink: Kink, value: number, limit: number): Words {
  const was = showQuantity(value, kink === 'noise' ? 'rad' : 'rad/s')
  switch (kink) {
    case 'stands':
      return {
        ...{ quantity: 'standstill of feedback', value, limit, unit: 'rad/s' },
        says: `The feedback stood still from one frame to the next, out of a motion at ${was}: no drive stops a joint so fast.`,
        why: 'Either the joint struck something, or nobody knows where it is.',
        look: 'Look whether the drive sends one position again and again (a frozen encoder, an old message), then for what blocks the joint.',
      }
    case 'turned':
      return {
        ...{ quantity: 'feedback sign', value, limit, unit: 'rad/s' },
        says: `The feedback turned round from one frame to the next, out of a motion at ${was}: no drive turns a joint round so fast.`,
        why: 'A drive whose encoder counts the wrong way drives the joint off, and no limit that is read from it holds.',
        look: "Look at the encoder's wires and supply, and whether the drive's polarity (607Eh) was changed.",
      }
    case 'noise':
      return {
        ...{ quantity: 'noise of feedback', value, limit, unit: 'rad' },
        says: `The feedback jumps to and fro from frame to frame, by ${was} (standard deviation), as no joint can move.`,
        why: 'Out of such feedback neither speed nor acceleration can be told, and a drive that closes its loop by it shakes the arm.',
        look: "Look at the encoder's cable, its screen and its supply, and at its head or magnet.",
      }
  }
}

export function echoed(samples: number, limit: number): Words {
  return {
    ...{ quantity: 'samples of feedback that are the setpoint', value: samples, limit, unit: 'count' },
    says: 'In motion the feedback was the setpoint itself, count for count, as no motor follows: it is an echo.',
    why: 'An echo says that all is well whatever the joint does.',
    look: 'Look which object is mapped as position (6064h, not 6062h or 607Ah), and whether the adapter hands back what it sends.',
  }
}

/** Over the whole run, or its last seconds. @param ratio of feedback to what it is held against @param over s; left out: all of it */
export function scaledOverRun(ratio: number, limit: number, against: Against, over?: number): Words {
  const than = against === 'setpoint' ? 'its setpoint' : 'the joint itself'
  return {
    ...{ quantity: 'feedback scale, off by', value: Math.abs(ratio - 1), limit, unit: 'share' },
    says: `Over ${over === undefined ? 'the whole run' : showQuantity(over, 's')} the feedback swung ${showQuantity(ratio, 'none', 4)} times as far as ${than}${mistake(ratio)}.`,
    why: 'A scale that is off is harmless near zero and grows with the angle.',
    look: "Look at counts-per-turn in this joint's wire binding, or at the scales in the frame map.",
  }
}

export function besideOverRun(offset: number, limit: number): Words {
  return {
    ...{ quantity: 'feedback offset', value: Math.abs(offset), limit, unit: 'rad' },
    says: `In the mean of the whole run the feedback lay ${showQuantity(offset, 'rad')} beside the true position.`,
    why: 'A zero that is off moves the blade, and every limit and distance, by the same angle.',
    look: "Look at zero in this joint's wire binding.",
  }
}
