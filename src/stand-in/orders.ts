/**
 * What is typed to a running stand-in, one order a line:
 *
 *     fault jammed port.elbow
 *     fault offset port.elbow 5 deg
 *     fault dropped starboard.swing 20 %
 *     fault late starboard.swing 15 ms
 *     fault dead starboard
 *     fault swapped port.elbow port.roll
 *     end jammed port.elbow
 *     anew
 *     list
 *
 * `anew` puts in place of the arms as they are arms that are switched on at the start pose of the rig, without faults. Programs
 * also say `quiet NUMBER`: each bus is sent one frame that carries the number, and nothing more until `anew`. That proves which
 * buses the arms are on, and that whoever still speaks there is somebody else.
 */
import { DrystrokeError } from '../errors.js'
import {
  FAULT_NAMES,
  FAULTS,
  type Fault,
  faultPlace,
  faultsOf,
  isFaultName,
} from '../files/faults/catalogue.js'
import type { Amount } from '../files/faults/kind.js'
import { didYouMean, nearest, oneOf } from '../files/nearest.js'
import type { Arm, Joint } from '../files/rig.js'
import { parseQuantity, unitsOf } from '../units.js'

export type Order =
  | { readonly kind: 'fault'; readonly fault: Fault; readonly on: boolean }
  | { readonly kind: 'list' }
  | { readonly kind: 'anew' }
  /** A whole number of 32 bits. */
  | { readonly kind: 'quiet'; readonly number: number }

/** What the orders must know of a rig. */
export interface Arms {
  readonly joints: readonly Pick<Joint, 'name'>[]
  readonly arms: readonly Pick<Arm, 'name'>[]
}

const WORDS = ['fault', 'end', 'anew', 'quiet', 'list'] as const

/** @throws DrystrokeError `usage` or `unit-invalid` */
export function parseOrder(line: string, { joints, arms }: Arms): Order {
  const [word = '', kind = '', place = '', ...rest] = line.trim().split(/\s+/)
  if (word === 'list' || word === 'anew') return { kind: word }
  if (word === 'quiet') {
    if (/^\d{1,10}$/.test(kind) && Number(kind) < 2 ** 32) return { kind: word, number: Number(kind) }
    throw new DrystrokeError('usage', `quiet ${kind}: expected a whole number below ${2 ** 32}`)
  }
  if (word !== 'fault' && word !== 'end') throw unknown('order', word, WORDS)
  if (!isFaultName(kind)) throw unknown('fault', kind, FAULT_NAMES)
  const { target, amount, pair } = FAULTS[kind]
  if (target !== 'joint' && target !== 'arm')
    throw unknown('fault of arms', kind, [...faultsOf('joint'), ...faultsOf('arm')])
  const index = indexIn(target === 'joint' ? joints : arms, target, place)
  const fault = { fault: kind, place: index, other: -1, amount: 0 }
  const text = rest.join(' ')
  const on = word === 'fault'
  if (!on || (!amount && !pair)) {
    if (text === '') return { kind: 'fault', fault, on }
    throw new DrystrokeError('usage', `"${text}" is one word too many: expected ${word} ${kind} ${place}`)
  }
  if (text === '')
    throw new DrystrokeError(
      'usage',
      `${kind} needs ${amount ? 'an amount' : 'another joint'}, such as: fault ${kind} ${place} ${amount?.example ?? joints.at(-1)!.name}`,
    )
  if (!amount) return { kind: 'fault', fault: { ...fault, other: indexIn(joints, 'joint', text) }, on }
  return { kind: 'fault', fault: { ...fault, amount: amountOf(text, amount) }, on }
}

function amountOf(text: string, { quantity }: Amount): number {
  if (quantity !== 'whole') return parseQuantity(text, quantity)
  if (/^\d{1,9}$/.test(text)) return Number(text)
  throw new DrystrokeError('usage', `"${text}" is no whole number`)
}

function indexIn(list: readonly { readonly name: string }[], what: string, name: string): number {
  const names = list.map((entry) => entry.name)
  const index = names.indexOf(name)
  if (index < 0) throw unknown(what, name, names)
  return index
}

/** The line that says so; `parseOrder` reads from it what was given. */
export function faultLine(fault: Fault, on: boolean, rig: Arms): string {
  const { amount, pair } = FAULTS[fault.fault]
  const line = `${on ? 'fault' : 'end'} ${fault.fault} ${faultPlace(fault, { ...rig, buses: [] })}`
  if (!on) return line
  if (pair) return `${line} ${rig.joints[fault.other]!.name}`
  return amount ? `${line} ${inUnit(fault.amount, amount)}` : line
}

/** In the unit in which SI counts. */
function inUnit(value: number, { quantity }: Amount): string {
  if (quantity === 'whole') return String(value)
  if (quantity === 'share') return `${value * 100} %`
  const unit = unitsOf(quantity).find((u) => parseQuantity(`1 ${u}`, quantity) === 1)
  return `${value} ${unit}`
}

function unknown(what: string, found: string, valid: readonly string[]): DrystrokeError {
  const advice = didYouMean(nearest(found, valid))
  return new DrystrokeError(
    'usage',
    `no ${what} "${found}": expected ${oneOf(valid)}${advice && `; ${advice}`}`,
  )
}
