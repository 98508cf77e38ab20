/** How one signal of a frame map is written: where its number stands in the frame, and what the number means. */
import { z } from 'zod'
import { choice, flag, list, name, section, whole } from './fields.js'
import type { ChecksumRule, MapSignal } from './frame-map.js'
import { quantity } from './quantity.js'

const place = {
  byte: whole('where the lowest bit stands: 0 is sent first', 0, 7),
  bit: whole('of that byte: 0 is the least significant', 0, 7).prefault(0),
  length: whole('bits', 1, 53),
  order: choice('little: goes on into the bytes after; big: into the bytes before', [
    'little',
    'big',
  ]).prefault('little'),
}
const signed = flag("whether it is signed, in two's complement").prefault(false)

type Scaled = 'angle' | 'angular speed' | 'torque' | 'temperature' | 'voltage' | 'current'
const scaled = (kind: Scaled, zero: string) => {
  const scale = quantity(kind, 'what one step of the number is worth').refine((v) => v !== 0, {
    error: 'a scale that is not zero',
  })
  return { ...place, signed, scale, offset: quantity(kind, 'what the number 0 stands for').prefault(zero) }
}

const number = z.int({ error: 'a whole number' })
export const numbers = (about: string, min: number) => list(number, about, min, 64)

const position = section('A joint position', { is: z.literal('position'), ...scaled('angle', '0 deg') })
const speed = section('A joint speed', { is: z.literal('speed'), ...scaled('angular speed', '0 deg/s') })
const torque = section('A torque', { is: z.literal('torque'), ...scaled('torque', '0 N m') })
const temperature = section('A temperature of the drive, where it is hottest', {
  is: z.literal('temperature'),
  ...scaled('temperature', '0 degC'),
})
const voltage = section('Voltage of the DC link', { is: z.literal('voltage'), ...scaled('voltage', '0 V') })
const current = section('Current of the motor', { is: z.literal('current'), ...scaled('current', '0 A') })
const state = section('What the drive is doing', {
  is: z.literal('state'),
  ...place,
  off: numbers('numbers that mean: no torque', 1),
  enabled: numbers('numbers that mean: follows setpoints', 1),
  fault: numbers('numbers that mean: in fault, no torque', 0).prefault([]),
})
const other = section('Anything else', {
  is: z.literal('other'),
  name: name('of the signal'),
  ...place,
  signed,
})
const constant = section('A number that never changes', {
  is: z.literal('constant'),
  ...place,
  value: number.min(0, { error: 'a whole number from 0' }).meta({ description: 'the number' }),
})
const counter = section('A number that rises by one from frame to frame', {
  is: z.literal('counter'),
  ...place,
})
const octet = (about: string) => whole(about, 0, 255)
const sum = section('A checksum of one byte over all other bytes of the frame', {
  is: z.literal('checksum'),
  byte: place.byte,
  kind: choice('xor, sum (modulo 256) or crc8 of the bytes in the order of sending', ['xor', 'sum', 'crc8']),
  polynomial: octet('of crc8, highest power first, x^8 left out').prefault(0x07),
  start: octet('before the first byte').prefault(0),
  final: octet('the result is XORed with this').prefault(0),
})

const message = (forms: readonly { shape: { is: z.ZodLiteral<string> } }[]) =>
  `a section with the keys is (${forms.map((f) => f.shape.is.value).join(', ')}), byte and what goes with it`

const ofCommands = [constant, counter, sum] as const
const ofSetpoints = [position, speed, ...ofCommands] as const
const ofFeedback = [
  position,
  speed,
  torque,
  temperature,
  voltage,
  current,
  state,
  other,
  ...ofCommands,
] as const

/** What may stand in a frame, by what the frame is for. */
export const commandSignal = z.discriminatedUnion('is', ofCommands, { error: message(ofCommands) })
export const setpointSignal = z.discriminatedUnion('is', ofSetpoints, { error: message(ofSetpoints) })
export const feedbackSignal = z.discriminatedUnion('is', ofFeedback, { error: message(ofFeedback) })

export type SignalForm = z.output<typeof feedbackSignal>

export function signalOf(form: SignalForm): MapSignal {
  const common = {
    is: form.is,
    name: form.is === 'other' ? form.name : form.is,
    byte: form.byte,
    scale: 'scale' in form ? form.scale : 1,
    offset: 'offset' in form ? form.offset : 0,
    value: form.is === 'constant' ? form.value : 0,
  }
  if (form.is === 'checksum') {
    const { kind, polynomial, start, final } = form
    const rule: ChecksumRule = { kind, polynomial, start, final }
    return { ...common, bit: 0, length: 8, order: 'little', signed: false, sum: rule }
  }
  const { bit, length, order } = form
  return { ...common, bit, length, order, signed: 'signed' in form && form.signed, sum: null }
}
