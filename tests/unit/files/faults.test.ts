/** The catalogue of faults: what stands in it can be written in a scenario, typed to a stand-in, and is in the README. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { FAULT_NAMES, FAULTS, type FaultName, faultPlace } from '../../../src/files/faults/catalogue.js'
import { loadRig, loadScenario } from '../../../src/files/load.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { DEMO_RIG, scenarioText } from '../../setup/runs.js'

const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
const README = readFileSync(new URL('../../../README.md', import.meta.url), 'utf8')
const PLACES = {
  joint: 'joint: port.elbow',
  arm: 'arm: starboard',
  bus: 'bus: port-can',
  driver: '',
  clock: '',
}

/** As it stands in a scenario. */
function written(name: FaultName, at = '6 s', more = ''): string {
  const { target, amount, pair } = FAULTS[name]
  const value = amount?.quantity === 'whole' ? amount.example : `"${amount?.example}"`
  const parts = [
    `at: "${at}"`,
    `fault: ${name}`,
    PLACES[target],
    amount ? `${amount.key}: ${value}` : '',
    pair ? 'with: port.roll' : '',
    more,
  ]
  return `{ ${parts.filter((p) => p !== '').join(', ')} }`
}

const load = (...faults: string[]) =>
  loadScenario(
    scenarioText('slow-ahead').replace(/\nexpect:/, `\nfaults: [${faults.join(', ')}]\nexpect:`),
    'scenario.yaml',
    rig,
  ).faults

it('has at least 35 entries', () => {
  expect(FAULT_NAMES.length).toBeGreaterThanOrEqual(35)
})

describe.each(FAULT_NAMES)('%s', (name) => {
  const { target, amount, pair, says } = FAULTS[name]

  it('is written in a scenario as the catalogue says', () => {
    const [fault] = load(written(name))
    expect(fault).toMatchObject({ fault: name, at: 6, lasts: Number.POSITIVE_INFINITY })
    const place = { joint: 'port.elbow', arm: 'starboard', bus: 'port-can', driver: '', clock: '' }[target]
    expect(faultPlace(fault!, rig)).toBe(place)
    if (amount) expect(fault!.amount).not.toBe(0)
    expect(fault!.other).toBe(pair ? 3 : -1)
  })

  it('has a row of the README that says what it does and what its number means', () => {
    const row = README.split('\n').find((line) => line.startsWith(`| \`${name}\` `))
    expect(row).toBeDefined()
    const cells = row!.split('|').map((cell) => cell.trim())
    expect(cells[2]).toBe(target)
    expect(cells[3]).toBe(
      amount ? `\`${amount.key}\`: ${amount.about}` : pair ? '`with`: the other joint' : '',
    )
    expect(cells[4]).toBe(says)
  })
})

it('the README lists no fault that there is not', () => {
  const [, section] = README.split('### Faults\n')
  const listed = [
    ...section!
      .split('\n### ')[0]!
      .split('\n## ')[0]!
      .matchAll(/^\| `([a-z-]+)` /gm),
  ].map((m) => m[1])
  expect(listed).toEqual(FAULT_NAMES)
})

describe('from the start', () => {
  it('is before all times, and its end counts from the beginning of the scenario', () => {
    const [fault] = load(written('zero-lost', 'power-on', 'lasts: "3 s"'))
    expect(fault).toMatchObject({ at: Number.NEGATIVE_INFINITY, lasts: 3 })
  })

  it('is nothing that clock and driver know', () => {
    expect(() => load(written('stall', 'power-on'))).toThrow(/time with its unit/)
  })
})

it.each([
  [`{ at: "6 s", fault: jamed, joint: port.elbow }`, /did you mean "jammed"/],
  [`{ at: "6 s", fault: jammed, joint: port.elbow, angle: "3 deg" }`, /unknown key "angle"/],
  [
    `{ at: "soon", fault: jammed, joint: port.elbow }`,
    /or "power-on", for a fault that is there when the arms are switched on/,
  ],
  [`{ at: "6 s", fault: dead, arm: larboard }`, /no arm of reservoir-skiff/],
  [`{ at: "6 s", fault: swapped, joint: port.elbow, with: port.elbow }`, /another joint/],
  [`{ at: "6 s", fault: swapped, joint: port.elbow, with: port.elbo }`, /did you mean "port.elbow"/],
  [`{ at: "6 s", fault: stuck-bit, joint: port.elbow, bit: 31 }`, /from 0 to 30/],
  [`{ at: "6 s", fault: stall, time: "20 ms", lasts: "1 s" }`, /unknown key "lasts"/],
])('%s is refused', (fault, message) => {
  expect(() => load(fault)).toThrow(message)
})
