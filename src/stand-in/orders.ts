/**
 * What is typed to a running stand-in, one order a line:
 *
 *     fault jammed port.elbow
 *     fault offset port.elbow 5 deg
 *     fault dropped starboard.swing 20 %
 *     fault late starboard.swing 15 ms
 *     end jammed port.elbow
 *     anew
 *     list
 *
 * `anew` puts in place of the arms as they are arms that are switched on at the start pose of the rig, without faults. Programs
 * also say `quiet NUMBER`: each bus is sent one frame that carries the number, and nothing more until `anew`. That proves which
 * buses the arms are on, and that whoever still speaks there is somebody else.
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
  | { readonly kind: 'anew' }
  /** A whole number of 32 bits. */
  | { readonly kind: 'quiet'; readonly number: number }

const WORDS = ['fault', 'end', 'anew', 'quiet', 'list'] as const

/** Faults that have an amount, and how it is written. */
const AMOUNT: Partial<
  Record<
    FaultKind,
    {
      readonly field: 'angle' | 'share' | 'delay'
      readonly quantity: Quantity
      readonly example: string
      /** From SI. */
      readonly written: (value: number) => string
    }
  >
> = {
  offset: { field: 'angle', quantity: 'angle', example: '5 deg', written: (v) => `${v} rad` },
  dropped: { field: 'share', quantity: 'share', example: '20 %', written: (v) => `${v * 100} %` },
  late: { field: 'delay', quantity: 'time', example: '15 ms', written: (v) => `${v} s` },
}

/** @throws DrystrokeError `usage` or `unit-invalid` */
export function parseOrder(line: string, joints: readonly Joint[]): Order {
  const [word = '', kind = '', place = '', ...rest] = line.trim().split(/\s+/)
  if (word === 'list' || word === 'anew') return { kind: word }
  if (word === 'quiet') {
    if (/^\d{1,10}$/.test(kind) && Number(kind) < 2 ** 32) return { kind: word, number: Number(kind) }
    throw new DrystrokeError('usage', `quiet ${kind}: expected a whole number below ${2 ** 32}`)
  }
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

/** The line that says so; `parseOrder` reads from it what was given. */
export function faultLine(fault: PlantFault, on: boolean, joints: readonly Joint[]): string {
  const place = joints[fault.joint]!.name
  if (!on) return `end ${fault.fault} ${place}`
  const amount = AMOUNT[fault.fault]
  return `fault ${fault.fault} ${place}${amount ? ` ${amount.written(fault[amount.field])}` : ''}`
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
