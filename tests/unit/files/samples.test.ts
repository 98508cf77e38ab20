/** The rigs and scenarios that come with the package are good, with the settings of the real watches. */
import { readdirSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { expect, test } from 'vitest'
import { readRigFile, readScenarioFile } from '../../../src/files/load.js'
import { watchSchemas } from '../../../src/watch/settings.js'

const path = (name: string) => fileURLToPath(new URL(`../../../${name}`, import.meta.url))
const skiff = readRigFile(path('rigs/reservoir-skiff.yaml'), watchSchemas)
const scenarios = readdirSync(path('scenarios')).filter((f) => f.endsWith('.yaml'))

test('the demo rig has two arms of six joints on a bus each', () => {
  expect(skiff.arms.map((arm) => [arm.side, arm.joints.length])).toEqual([
    ['port', 6],
    ['starboard', 6],
  ])
  expect(skiff.joints.map((joint) => joint.wire.bus)).toEqual([0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1])
})

test('its bindings differ from joint to joint, so that a mixed-up joint shows', () => {
  const bindings = skiff.joints.map(({ wire }) => `${wire.sign} ${wire.zero}`)
  expect(new Set(bindings).size).toBe(12)
  expect(new Set(skiff.joints.map(({ wire }) => wire.sign)).size).toBe(2)
})

test('it says how thick its arms are, in m, and what they must keep clear of', () => {
  const { clearance } = skiff
  expect(clearance).toMatchObject({ least: 0.05, warn: 0.1, base: 0.05, paddle: 0.015, leftOut: [] })
  expect(clearance!.links).toEqual([
    0.05, 0.045, 0.04, 0.035, 0.035, 0.04, 0.05, 0.045, 0.04, 0.035, 0.035, 0.04,
  ])
  expect(clearance!.keepOut.map(({ name, parts }) => [name, parts.length])).toEqual([
    ['hull', 1],
    ['gunwale', 2],
    ['person', 2],
  ])
  expect(clearance!.keepOut[0]!.parts[0]).toEqual({
    shape: 'box',
    pose: { at: [0, 0, -0.25], turn: [0, 0, 0] },
    size: [3.8, 1.1, 0.36],
    radius: 0.02,
  })
})

test('there are at least ten scenarios, and at least three expect a stop', () => {
  const stops = scenarios.filter(
    (f) => readScenarioFile(path(`scenarios/${f}`), skiff).expect.outcome === 'stop',
  )
  expect(scenarios.length).toBeGreaterThanOrEqual(10)
  expect(stops.length).toBeGreaterThanOrEqual(3)
})

test.each(scenarios)('scenarios/%s: named as its file, and no side faster than 0.3 m/s', (file) => {
  const scenario = readScenarioFile(path(`scenarios/${file}`), skiff)
  expect(`${scenario.name}.yaml`).toBe(file)
  for (const { surge, yaw } of scenario.commands) {
    expect(Math.abs(surge) + Math.abs((yaw * skiff.craft.track) / 2)).toBeLessThanOrEqual(0.3 + 1e-12)
  }
})
