/**
 * The published schema of verdict.json. JSON has no NaN and no infinity: they stand as null, and come back as NaN.
 * Input: what the file holds; output: a `Verdict`.
 */
import { z } from 'zod'

const UNITS = [
  'rad',
  'rad/s',
  'rad/s2',
  'm',
  'm/s',
  's',
  'N',
  'N m',
  'N/m',
  'share',
  'count',
  'Hz',
  'V',
  'A',
  'degC',
  'none',
] as const

const unit = z.enum(UNITS).describe('SI; "share" is 0..1')
const nanos = z.number().int().min(0).describe('Whole nanoseconds since the run began')
const measured = z
  .union([z.number(), z.null().transform(() => Number.NaN)])
  .describe('SI number; null when it is not finite')
const category = z
  .union([z.literal(0), z.literal(1), z.literal(2)])
  .describe('Stop category after IEC 60204-1, 9.2.2')

const finding = z.strictObject({
  watch: z.string().describe('The watch that saw it'),
  severity: z
    .enum(['warning', 'failure', 'doubt'])
    .describe('A failure fails the run, a doubt makes it incomplete'),
  place: z.string().describe('Joint, arm or bus; empty: the whole rig'),
  t: nanos,
  quantity: z.string(),
  value: measured,
  limit: measured,
  unit,
  says: z.string().describe('What was seen'),
  why: z.string().describe('Why it matters'),
  look: z.string().describe('What to look at first'),
  stop: category.nullable().describe('Category of the stop it asked for'),
})

const figure = z.strictObject({
  place: z.string(),
  name: z.string(),
  value: measured,
  unit,
  limit: z.number().nullable().describe('What it is held against, if anything'),
})

export const verdictSchema = z
  .strictObject({
    format: z.literal('drystroke-verdict-1'),
    outcome: z.enum(['pass', 'fail', 'incomplete']),
    sentence: z.string().describe('The reason in one sentence'),
    rig: z.string(),
    scenario: z.string(),
    seed: z.number().int(),
    length: nanos.describe('Nanoseconds from the first to the last observation'),
    zero: nanos.nullable().describe('Time of scenario zero; null: the run never got there'),
    ended: z.enum(['completed', 'stopped', 'signal', 'operator', 'cut short']),
    expectations: z.array(z.strictObject({ expected: z.string(), found: z.string(), met: z.boolean() })),
    stop: z
      .strictObject({
        source: z.string(),
        place: z.string(),
        category,
        t: nanos,
        says: z.string(),
        escalation: z
          .strictObject({
            source: z.string(),
            place: z.string(),
            category: z.union([z.literal(0), z.literal(1)]),
            t: nanos,
            says: z.string(),
          })
          .nullable()
          .describe('The harder stop that took its place while it was in force'),
        toStill: z
          .number()
          .nullable()
          .describe('Seconds from the stop to the last joint still; null: not all came to rest'),
      })
      .nullable(),
    findings: z.array(finding).max(200).describe('In order of time'),
    moreFindings: z.number().int().min(0).describe('How many findings beyond these'),
    watches: z.array(z.strictObject({ watch: z.string(), figures: z.array(figure) })),
    cautions: z.array(z.string()),
  })
  .describe('What a Drystroke run comes to: worked out from its frames and events alone')
