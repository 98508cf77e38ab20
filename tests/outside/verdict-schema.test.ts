/** verdict.json of real runs, held against the published JSON Schema by a validator of its own: Ajv (draft 2020-12). */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { Ajv2020 } from 'ajv/dist/2020.js'
import { describe, expect, it } from 'vitest'
import { change, DEMO_RIG, play, scenarioText, temporaryFolder } from '../setup/runs.js'

const schema = new URL('../../src/verdict/verdict.schema.json', import.meta.url)
const validate = new Ajv2020({ allErrors: true }).compile(JSON.parse(readFileSync(schema, 'utf8')))
const out = temporaryFolder()

async function verdictOf(rig: string, scenario: string) {
  const { folder, verdict } = await play(out, rig, scenario)
  return {
    verdict,
    file: JSON.parse(readFileSync(join(folder, 'verdict.json'), 'utf8')) as Record<string, unknown>,
  }
}

// The drive's zero is a sixth of a turn off: the elbow seems to stand at 152 deg, beyond its range.
const neverReady = change(DEMO_RIG, /(port\.elbow: \{.*zero: )"20480 counts"/, '$1"42325 counts"')

describe('verdict.json of a real run', () => {
  it.each([
    ['a pass', DEMO_RIG, 'slow-ahead', 'pass', 'completed'],
    ['a pass with a stop', DEMO_RIG, 'operator-stop', 'pass', 'completed'],
    ['a start that is refused', neverReady, 'slow-ahead', 'fail', 'stopped'],
  ])('%s is valid', async (_, rig, scenario, outcome, ended) => {
    const { verdict, file } = await verdictOf(rig, scenarioText(scenario))
    expect(verdict).toMatchObject({ outcome, ended })
    validate(file)
    expect(validate.errors ?? []).toEqual([])
  })

  it('with findings is valid, and no longer so with any key of it taken away or one added', async () => {
    const { verdict, file } = await verdictOf(
      DEMO_RIG,
      change(scenarioText('joint-silent'), /by: silence/, 'by: tracking'),
    )
    expect(verdict.findings.length).toBeGreaterThan(0)
    expect(verdict.stop).not.toBeNull()
    validate(file)
    expect(validate.errors ?? []).toEqual([])
    const finding = (file.findings as Record<string, unknown>[])[0]!
    for (const part of [file, file.stop as Record<string, unknown>, finding]) {
      expect(Object.keys(part).length).toBeGreaterThan(5)
      for (const [key, value] of Object.entries(part)) {
        delete part[key]
        expect(validate(file), `without ${key}`).toBe(false)
        part[key] = value
      }
      part.extra = 1
      expect(validate(file)).toBe(false)
      delete part.extra
    }
    expect(validate(file)).toBe(true)
  })
})
