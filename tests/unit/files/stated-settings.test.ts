import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { watchSettings } from '../../../src/verdict/watch-settings.js'
import { watchSchemas } from '../../../src/watch/settings.js'

const TEXT = readFileSync(new URL('small-rig.yaml', import.meta.url), 'utf8')
const stated = (watch: string) => watchSettings(`${TEXT.replace(/^watch:.*\n(?: .*\n)*/m, '')}\n${watch}`)

/** How many values a resolved section has; joints by name are one. */
const leaves = (value: unknown): number =>
  typeof value === 'object' && value !== null && Object.keys(value).length > 0
    ? Object.values(value).reduce<number>((sum, v) => sum + leaves(v), 0)
    : 1

describe('settings as a rig states them', () => {
  it('has each setting that a watch has, with its unit and one line about it', () => {
    const all = stated('')
    for (const [watch, schema] of Object.entries(watchSchemas)) {
      const settings = schema.parse({})
      const told = all.filter(({ name, usual }) => name.startsWith(`${watch}.`) && usual !== null)
      const none = watch === 'tracking' ? 1 : 0
      expect([watch, told.length]).toEqual([
        watch,
        Object.keys(settings).length === 0 ? 0 : leaves(settings) - none,
      ])
    }
    for (const { about } of all) {
      expect(about.length).toBeGreaterThan(5)
      expect(about).not.toMatch(/\n|at least "|at most "/)
    }
    expect(all.every(({ value, usual }) => value === usual)).toBe(true)
  })

  it('tells what the rig says beside what it would be', () => {
    const all = stated(
      'watch: { tracking: { window: "2 deg", lag: { set: { arm.swing: "10 ms" } } }, load: { trip: "20 min" } }',
    )
    const own = all.filter(({ value, usual }) => value !== usual)
    expect(own.map(({ name, value, usual }) => [name, value, usual])).toEqual([
      ['tracking.window', '2 deg', '1.5 deg'],
      ['tracking.lag.set', 'arm.swing: 10 ms', null],
      ['load.trip', '20 min', null],
    ])
  })
})
