/** The published JSON Schemas, held against the files by a validator of its own: Ajv (draft 2020-12). */
import { readdirSync, readFileSync } from 'node:fs'
import { Ajv2020 } from 'ajv/dist/2020.js'
import { describe, expect, test } from 'vitest'
import { parse } from 'yaml'

const root = new URL('../../../', import.meta.url)
const read = (path: string) => readFileSync(new URL(path, root), 'utf8')

describe.each([
  { folder: 'rigs', schema: 'rigs/rig.schema.json', prefix: 'rig-' },
  { folder: 'scenarios', schema: 'scenarios/scenario.schema.json', prefix: 'scenario-' },
])('$schema', ({ folder, schema, prefix }) => {
  // Tuples of the schema say their length with minItems and items: false, which strictTuples does not see.
  const validate = new Ajv2020({ allErrors: true, strictTuples: false }).compile(JSON.parse(read(schema)))
  const samples = readdirSync(new URL(folder, root)).filter((f) => f.endsWith('.yaml'))

  test.each(samples)(`${folder}/%s is valid`, (sample) => {
    validate(parse(read(`${folder}/${sample}`)))
    expect(validate.errors ?? []).toEqual([])
  })

  // Mistakes of form; those across sections, and bounds of quantities, are beyond a JSON Schema.
  test.each(
    [
      'bare-number',
      'bare-numbers',
      'wrong-unit',
      'stray-spaces',
      'misspelt-key',
      'wrong-list-length',
      'wrong-choice',
    ]
      .concat([
        'fault-unknown',
        'fault-stray-angle',
        'outcome-mixed',
        'missing-keys',
        'controlword-bare',
        'wrong-type',
      ])
      .map((name) => `tests/golden/bad-files/${prefix}${name}.yaml`)
      .filter((path) =>
        readdirSync(new URL('tests/golden/bad-files', root)).includes(path.split('/').at(-1)!),
      ),
  )('%s is not', (path) => {
    expect(validate(parse(read(path)))).toBe(false)
  })
})
