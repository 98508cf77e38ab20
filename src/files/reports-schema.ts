/** How a bus says what its CiA 402 drives report besides their feedback: objects of theirs in a second process data object. */
import { z } from 'zod'
import { choice, flag, section, whole } from './fields.js'
import { quantity } from './quantity.js'
import { type DriveReports, REPORTED, type Reported, type ReportedObject } from './reports.js'

const INDEX = /^0x[0-9a-fA-F]{4}$/
const indexMessage = 'an index from "0x2000" to "0x9fff", as a string in hexadecimal digits'

const index = z
  .string({ error: indexMessage })
  .meta({ description: 'of the object', pattern: INDEX.source, examples: ['0x2030'] })
  .transform((text, context): number => {
    const value = INDEX.test(text) ? Number.parseInt(text, 16) : Number.NaN
    if (value >= 0x2000 && value <= 0x9fff) return value
    context.issues.push({ code: 'custom', message: indexMessage, input: text })
    return z.NEVER
  })

const scale = (kind: 'temperature' | 'voltage' | 'current') =>
  quantity(kind, 'what one step of its number is worth').refine((v) => v !== 0, {
    error: 'a scale that is not zero',
  })
const sub = whole('sub-index', 0, 255).prefault(0)
const bytes = choice('length', [1, 2, 4])
const signed = flag("whether its number is signed, in two's complement")

/** The standard knows no temperature: each maker has an object of his own. 6079h and 6078h are those of CiA 402. */
const forms = {
  temperature: section('Temperature of the hottest place that has a sensor', {
    object: index,
    sub,
    bytes: bytes.prefault(2),
    signed: signed.prefault(true),
    scale: scale('temperature').prefault('1 degC'),
    offset: quantity('temperature', 'what the number 0 stands for').prefault('0 degC'),
  }),
  voltage: section('Voltage of the DC link; left empty: object 6079h, in mV', {
    object: index.prefault('0x6079'),
    sub,
    bytes: bytes.prefault(4),
    signed: signed.prefault(false),
    scale: scale('voltage').prefault('1 mV'),
  }),
  current: section('Current of the motor; object 6078h counts in thousandths of the rated current', {
    object: index.prefault('0x6078'),
    sub,
    bytes: bytes.prefault(2),
    signed: signed.prefault(true),
    scale: scale('current'),
  }),
}

/** Of a process data object (CiA 301). */
const MOST_BYTES = 8

export const reportsForm = section('What the drives of this bus report besides feedback, in their TPDO2', {
  every: whole('SYNCs from one report to the next', 1, 240).prefault(20),
  temperature: forms.temperature.optional(),
  voltage: forms.voltage.optional(),
  current: forms.current.optional(),
})
  .superRefine((form, context) => {
    const sum = REPORTED.reduce((bytes, what) => bytes + (form[what]?.bytes ?? 0), 0)
    if (sum >= 1 && sum <= MOST_BYTES) return
    const message =
      sum === 0
        ? `at least one of ${REPORTED.join(', ')}`
        : `objects that have at most ${MOST_BYTES} bytes together, not ${sum}: they share a frame`
    context.addIssue({ code: 'custom', message })
  })
  .transform(
    (form): DriveReports => ({
      every: form.every,
      objects: REPORTED.flatMap((what): ReportedObject[] => {
        const o = form[what]
        if (o === undefined) return []
        const { object, ...rest } = o
        return [{ what: what satisfies Reported, index: object, offset: 0, ...rest }]
      }),
    }),
  )
