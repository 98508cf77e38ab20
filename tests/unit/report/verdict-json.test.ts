import { describe, expect, expectTypeOf, it } from 'vitest'
import { z } from 'zod'
import { verdictJson } from '../../../src/report/verdict-json.js'
import type { ShownUnit } from '../../../src/units.js'
import type { Verdict } from '../../../src/verdict/verdict.js'
import { verdictSchema } from '../../../src/verdict/verdict-schema.js'
import { FINDINGS, INCOMPLETE, PASSED, VERDICT } from './sample-run.js'

/** The same with every object's keys turned round. */
function reversed(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(reversed)
  if (value === null || typeof value !== 'object') return value
  return Object.fromEntries(
    Object.entries(value)
      .reverse()
      .map(([k, v]) => [k, reversed(v)]),
  )
}

type Mutable<T> = T extends readonly (infer E)[]
  ? Mutable<E>[]
  : T extends object
    ? { -readonly [K in keyof T]: Mutable<T[K]> }
    : T

describe('verdict.json', () => {
  it('has the same bytes whatever the order of keys in the object', () => {
    expect(verdictJson(reversed(VERDICT) as Verdict)).toBe(verdictJson(VERDICT))
    expect(verdictJson(VERDICT)).toMatch(
      /^\{\n {2}"format": "drystroke-verdict-1",\n {2}"outcome": "fail",\n[\s\S]*\}\n$/,
    )
  })

  it.each([VERDICT, PASSED, INCOMPLETE])('says all of the verdict and no more', (v) => {
    expect(JSON.parse(verdictJson(v))).toEqual(JSON.parse(JSON.stringify(v)))
    expect(verdictSchema.parse(JSON.parse(verdictJson(v)))).toEqual(v)
  })

  it('keeps nothing that the verdict does not have', () => {
    expect(verdictJson({ ...VERDICT, host: 'bench' } as Verdict)).toBe(verdictJson(VERDICT))
  })

  it('writes null for what is not finite, and the schema reads it back', () => {
    const v: Verdict = {
      ...VERDICT,
      findings: [{ ...FINDINGS[0]!, value: Number.NaN, limit: Number.POSITIVE_INFINITY }],
    }
    const text = verdictJson(v)
    expect(text).toContain('"value": null,\n      "limit": null,')
    expect(verdictSchema.parse(JSON.parse(text)).findings[0]!.value).toBeNaN()
  })
})

describe('the schema of verdict.json', () => {
  it('has exactly the type of a verdict', () => {
    expectTypeOf<z.output<typeof verdictSchema>>().toEqualTypeOf<Mutable<Verdict>>()
    expectTypeOf<Verdict['findings'][number]['unit']>().toEqualTypeOf<ShownUnit>()
  })

  it.each<[string, (v: Record<string, unknown>) => void]>([
    ['an unknown key', (v) => (v.host = 'bench')],
    ['another outcome', (v) => (v.outcome = 'maybe')],
    ['half a nanosecond', (v) => (v.length = 0.5)],
    ['a missing key', (v) => delete v.seed],
    ['a fourth category', (v) => ((v.stop as { category: number }).category = 3)],
    ['too many findings', (v) => (v.findings = Array(201).fill(FINDINGS[0]))],
  ])('refuses %s', (_, harm) => {
    const v = JSON.parse(verdictJson(VERDICT)) as Record<string, unknown>
    harm(v)
    expect(verdictSchema.safeParse(v).success).toBe(false)
  })

  it('can be published as JSON Schema of what the file holds', () => {
    const schema = z.toJSONSchema(verdictSchema, { io: 'input' })
    expect(schema.required).toContain('outcome')
    const { findings } = schema.properties as { findings: { items: { properties: Record<string, unknown> } } }
    expect(findings.items.properties.value).toMatchObject({ type: ['number', 'null'] })
  })
})
