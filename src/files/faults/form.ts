/** How faults are written in a scenario file, made of the catalogue; and what becomes of what is written. */
import { z } from 'zod'
import { patternOf } from '../../units.js'
import { section, whole } from '../fields.js'
import { quantity } from '../quantity.js'
import type { Rig } from '../rig.js'
import type { TimedFault } from '../scenario.js'
import { FAULT_NAMES, FAULTS, type FaultName, faultsOf } from './catalogue.js'
import type { Amount, FaultTarget } from './kind.js'

/** Written for `at`: the fault is there when the arms are switched on. */
const FROM_THE_START = 'power-on'

const DAY = { min: '0 s', max: '1440 min' } as const
const begins = quantity('time', 'when it begins', DAY)
const LASTS = quantity('time', 'left out: to the end', { above: '0 s', max: '1440 min' }).optional()

/** A time, or the word for before all times. */
const FROM = (() => {
  const expected = `a time with its unit, such as "6 s", or "${FROM_THE_START}", for a fault that is there when the arms are switched on`
  return z
    .string({ error: expected })
    .meta({
      pattern: `(${patternOf('time')})|(^${FROM_THE_START}$)`,
      description: 'when it begins',
      examples: ['6 s', FROM_THE_START],
    })
    .transform((text, context) => {
      if (text === FROM_THE_START) return Number.NEGATIVE_INFINITY
      const parsed = begins.safeParse(text)
      if (parsed.success) return parsed.data
      const known = new RegExp(patternOf('time')).test(text)
      const message = known ? parsed.error.issues[0]!.message : expected
      context.issues.push({ code: 'custom', message, input: text })
      return z.NEVER
    })
})()

export const NAMES_JOINT = z
  .string({ error: 'the name of a joint, such as port.elbow' })
  .meta({ description: 'arm.joint, as the rig names them', examples: ['port.elbow'] })

const NAMES_ARM = z
  .string({ error: 'the name of an arm, such as port' })
  .meta({ description: 'as the rig names it', examples: ['port'] })

export const NAMES_BUS = z
  .string({ error: 'the name of a bus, such as port-can' })
  .meta({ description: 'as the rig names it', examples: ['port-can'] })

const PLACE: Record<FaultTarget, Record<string, z.ZodType>> = {
  joint: { joint: NAMES_JOINT },
  arm: { arm: NAMES_ARM },
  bus: { bus: NAMES_BUS },
  driver: {},
  clock: {},
}

/** One fault as it is written, its numbers in SI: the amount stands under the key that the catalogue has for it. */
interface FaultForm extends Partial<Record<Amount['key'], number>> {
  readonly at: number
  readonly lasts?: number
  readonly fault: FaultName
  readonly joint?: string
  readonly arm?: string
  readonly bus?: string
  readonly with?: string
}

function amountField({ quantity: kind, about, range }: Amount): z.ZodType {
  if (kind === 'whole' && 'least' in range) return whole(about, range.least, range.most)
  return kind === 'whole' || 'least' in range ? z.never() : quantity(kind, about, range)
}

function formOf(name: FaultName) {
  const { target, says, amount, forGood, pair } = FAULTS[name]
  return section(says, {
    at: target === 'driver' || target === 'clock' ? begins : FROM,
    ...(forGood ? {} : { lasts: LASTS }),
    ...PLACE[target],
    fault: z.literal(name),
    ...(amount ? { [amount.key]: amountField(amount) } : {}),
    ...(pair ? { with: NAMES_JOINT } : {}),
  })
}

const FORMS = FAULT_NAMES.map(formOf)

// Made of a table, a union does not know its own type.
export const faultForm = z
  .discriminatedUnion('fault', FORMS as [(typeof FORMS)[number], ...typeof FORMS], {
    error: `a section with the keys at, fault and the place of the fault: joint (${few('joint')}), arm (${few('arm')}) or bus (${few('bus')}); those of the driver (${few('driver')}) and the clock (${few('clock')}) have none`,
  })
  .meta({
    description: 'What goes wrong with a simulated arm, a mock bus, the driver or the clock',
  }) as unknown as z.ZodType<FaultForm, Record<string, unknown>>

function few(target: FaultTarget): string {
  const names = faultsOf(target)
  return `${names.slice(0, 3).join(', ')}${names.length > 3 ? ', ...' : ''}`
}

/** @param fault whose names exist in the rig */
export function resolveFault(fault: FaultForm, { joints, arms, buses }: Rig): TimedFault {
  const { amount } = FAULTS[fault.fault]
  const indexOf = (list: readonly { readonly name: string }[], name: string | undefined) =>
    list.findIndex((entry) => entry.name === name)
  const place =
    fault.joint !== undefined
      ? indexOf(joints, fault.joint)
      : fault.arm !== undefined
        ? indexOf(arms, fault.arm)
        : fault.bus !== undefined
          ? indexOf(buses, fault.bus)
          : 0
  return {
    at: fault.at,
    lasts: fault.lasts ?? Number.POSITIVE_INFINITY,
    fault: fault.fault,
    place,
    other: fault.with === undefined ? -1 : indexOf(joints, fault.with),
    amount: amount ? fault[amount.key]! : 0,
  }
}
