/** Water, hull, mount and battery as a rig writes them. Refusals: tests/golden/bad-files. */
import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { loadRig, loadScenario } from '../../../src/files/load.js'
import { resolvedRigText, resolvedScenarioText } from '../../../src/files/resolved-text.js'
import type { Rig } from '../../../src/files/rig.js'
import { change } from '../../setup/runs.js'
import { watchSchemas } from './watch-schemas.js'

const small = readFileSync(new URL('small-rig.yaml', import.meta.url), 'utf8')
const load = (text: string) => loadRig(text, 'rig.yaml', watchSchemas)
const rigWith = (...lines: string[]) => load(change(small, /\nbuses:\n/, `\n${lines.join('\n')}\nbuses:\n`))
const EXTENT = 'length: "3.8 m", beam: "1 m", draught: "0.12 m"'

describe('a rig', () => {
  test('says nothing of water, hull, mount and battery where they are left out; its blades are flat plates', () => {
    const { water, hull, mount, battery, arms, simulation } = load(small)
    expect([water, hull, mount, battery]).toEqual([null, null, null, null])
    expect(arms[0]!.paddle.flow).toEqual({ lift: 1.3, drag: 2, added: 0.58 })
    expect(simulation.plant).toBe('dry')
  })

  test('has fresh water at its temperature, or salt water by its figures', () => {
    expect(rigWith('water: {}').water).toEqual({ temperature: 15, density: null, viscosity: null })
    const salt = rigWith('water: { temperature: "8.5 degC", density: "1025 kg/m3", viscosity: "1.4 mm2/s" }')
    expect(salt.water).toEqual({ temperature: 8.5, density: 1025, viscosity: 1.4e-6 })
  })

  test('has a hull by its wetted area, and what else is left out by common practice', () => {
    expect(rigWith(`hull: { ${EXTENT}, wetted: { area: "2.9 m2" } }`).hull).toEqual({
      length: 3.8,
      beam: 1,
      draught: 0.12,
      centre: 0,
      gyration: 0.95,
      metacentricHeight: null,
      mostHeel: (10 * Math.PI) / 180,
      added: null,
      resistance: { kind: 'wetted', area: 2.9, formFactor: 0.2 },
      crossFlow: 1,
      sway: null,
      yaw: null,
    })
  })

  test('has a hull by a towed drag and its own figures', () => {
    const { hull } = rigWith(
      'hull:',
      '  length: "3.8 m"',
      '  beam: "1 m"',
      '  draught: "0.12 m"',
      '  gyration: "1.1 m"',
      '  metacentric-height: "40 cm"',
      '  drag: [{ speed: "1.8 km/h", force: "3 N" }, { speed: "1 m/s", force: "9 N" }]',
      '  added-mass: { surge: "9 kg", sway: "80 kg", yaw: "50 kg m2" }',
      '  sway: { quadratic: "200 N s2/m2" }',
      '  yaw: { linear: "4 N m s/rad", quadratic: "90 N m s2/rad2" }',
    )
    expect(hull).toMatchObject({
      gyration: 1.1,
      metacentricHeight: 0.4,
      added: { surge: 9, sway: 80, yaw: 50 },
      sway: { linear: 0, quadratic: 200 },
      yaw: { linear: 4, quadratic: 90 },
    })
    expect(hull!.resistance).toEqual({
      kind: 'table',
      rows: [
        { speed: 0.5, force: 3 },
        { speed: 1, force: 9 },
      ],
    })
  })

  test('has a mount by its section or by a measurement', () => {
    const mount = (beam: string, ...more: string[]) =>
      rigWith(
        'mount:',
        `  ${beam}`,
        ...more.map((line) => `  ${line}`),
        '  length: "25 cm"',
        '  tip-mass: "8 kg"',
        '  reach: "0.7 m"',
        '  lines: ["17 Hz"]',
      ).mount
    const rest = { length: 0.25, tipMass: 8, reach: 0.7, lines: [17], margin: 0.2, harmonics: 20 }
    // The solid 20 x 20 bar of the tables has 13333 mm4.
    const { beam, ...others } = mount(
      'section: { modulus: "68.9 GPa", inertia: "13333 mm4", mass-per-length: "1.08 kg/m" }',
    )!
    expect(others).toEqual(rest)
    expect(beam).toMatchObject({ kind: 'section', modulus: 68.9e9, massPerLength: 1.08 })
    expect(beam.kind === 'section' && beam.inertia / 1.3333e-8).toBeCloseTo(1, 12)
    expect(mount('measured: { load: "20 N", deflection: "2 mm" }')).toEqual({
      ...rest,
      beam: { kind: 'measured', load: 20, deflection: 2e-3, mass: 0 },
    })
    const measured = 'measured: { load: "20 N", deflection: "2 mm" }'
    expect(mount(measured, 'margin: "25 %"', 'harmonics: 6')).toMatchObject({ margin: 0.25, harmonics: 6 })
  })

  test('has a battery', () => {
    const { battery } = rigWith(
      'battery: { capacity: "20 A h", rated: "10 h", exponent: 1.2, voltage: "24 V" }',
    )
    expect(battery).toMatchObject({ capacity: 72e3, rating: 36e3, exponent: 1.2, voltage: 24 })
    expect([battery!.usable, battery!.efficiency]).toEqual([0.8, 0.85])
  })

  test('keeps all of it in the text of a recording', () => {
    const text = change(
      small,
      /\nbuses:\n/,
      `\nwater: {}\nhull: { ${EXTENT}, wetted: { area: "2.9 m2" } }\nbattery: { capacity: "20 A h", voltage: "24 V" }\nbuses:\n`,
    )
    const resolved = resolvedRigText(text, watchSchemas)
    expect(load(resolved)).toEqual(load(text))
    for (const part of ['temperature: 15 degC', 'form-factor: 0.2', 'rated: 20 h', 'plant: dry', 'lift: 1.3'])
      expect(resolved).toContain(part)
  })
})

describe('a scenario', () => {
  const scenario = (...lines: string[]) =>
    [
      'name: still',
      'about: x',
      'duration: "1 s"',
      ...lines,
      'expect: { outcome: finish, parked: true }',
    ].join('\n')
  const loaded = (text: string, rig: Rig) => loadScenario(text, 'scenario.yaml', rig)

  test('is played on what the rig says, or as it says itself', () => {
    const dry = load(small)
    const afloat: Rig = { ...dry, simulation: { ...dry.simulation, plant: 'afloat' } }
    expect(loaded(scenario(), dry).plant).toBe('dry')
    expect(loaded(scenario(), afloat).plant).toBe('afloat')
    expect(loaded(scenario('plant: dry'), afloat).plant).toBe('dry')
  })

  test('says in a recording what it said', () => {
    expect(resolvedScenarioText(scenario('plant: dry'))).toContain('plant: dry')
    expect(resolvedScenarioText(scenario())).not.toContain('plant')
  })
})
