/**
 * What is typed to a running stand-in, one order a line:
 *
 *     fault jammed port.elbow
 *     fault offset port.elbow 5 deg
 *     fault dropped starboard.swing 20 %
 *     fault late starboard.swing 15 ms
 *     end jammed port.elbow
 *     list
 */
import { DrystrokeError } from '../errors.js'
import { didYouMean, nearest, oneOf } from '../files/nearest.js'
import type { Joint } from '../files/rig.js'
import { FAULTS, type FaultKind } from '../files/scenario.js'
import type { PlantFault } from '../plant/contract.js'
import { parseQuantity, type Quantity } from '../units.js'

export type Order =
  | { readonly kind: 'fault'; readonly fault: PlantFault; readonly on: boolean }
  | { readonly kind: 'list' }

const WORDS = ['fault', 'end', 'list'] as const

/** Faults that have an amount, and how it is written. */
const AMOUNT: Partial<
  Record<
    FaultKind,
    { readonly field: 'angle' | 'share' | 'delay'; readonly quantity: Quantity; readonly example: string }
  >
> = {
  offset: { field: 'angle', quantity: 'angle', example: '5 deg' },
  dropped: { field: 'share', quantity: 'share', example: '20 %' },
  late: { field: 'delay', quantity: 'time', example: '15 ms' },
}

/** @throws DrystrokeError `usage` or `unit-invalid` */
export function parseOrder(line: string, joints: readonly Joint[]): Order {
  const [word = '', kind = '', place = '', ...rest] = line.trim().split(/\s+/)
  if (word === 'list') return { kind: 'list' }
  if (word !== 'fault' && word !== 'end') throw unknown('order', word, WORDS)
  if (!isFault(kind)) throw unknown('fault', kind, FAULTS)
  const names = joints.map((j) => j.name)
  const joint = names.indexOf(place)
  if (joint < 0) throw unknown('joint', place, names)
  const fault = { fault: kind, joint, angle: 0, share: 0, delay: 0 }
  const amount = word === 'fault' ? AMOUNT[kind] : undefined
  const text = rest.join(' ')
  if (!amount) {
    if (text === '') return { kind: 'fault', fault, on: word === 'fault' }
    throw new DrystrokeError('usage', `"${text}" is one word too many: expected ${word} ${kind} ${place}`)
  }
  if (text === '')
    throw new DrystrokeError(
      'usage',
      `${kind} needs an amount, such as: fault ${kind} ${place} ${amount.example}`,
    )
  return {
    kind: 'fault',
    fault: { ...fault, [amount.field]: parseQuantity(text, amount.quantity) },
    on: true,
  }
}

function isFault(word: string): word is FaultKind {
  return (FAULTS as readonly string[]).includes(word)
}

function unknown(what: string, found: string, valid: readonly string[]): DrystrokeError {
  const advice = didYouMean(nearest(found, valid))
  return new DrystrokeError(
    'usage',
    `no ${what} "${found}": expected ${oneOf(valid)}${advice && `; ${advice}`}`,
  )
}
