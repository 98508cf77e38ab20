/** What links weigh, written by hand. Refusals: tests/golden/bad-files. */
import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { resolvedRigText } from '../../../src/files/resolved-text.js'
import { change } from '../../setup/runs.js'
import { watchSchemas } from './watch-schemas.js'

const small = readFileSync(new URL('small-rig.yaml', import.meta.url), 'utf8')
const load = (text: string) => loadRig(text, 'rig.yaml', watchSchemas)
/** The small rig with lines more in its first joint. */
const swingWith = (...lines: string[]) =>
  change(small, / {8}wire: \{ bus: can-a/, (line) => [...lines.map((l) => `        ${l}\n`), line].join(''))

describe('a joint', () => {
  test('of which nothing is said weighs nobody knows what, and has an ideal train', () => {
    const [swing] = load(small).joints
    expect(swing!.body).toBeNull()
    expect(swing!.rating).toBeNull()
    expect(swing!.train).toEqual({ rotor: 0, viscous: 0, coulomb: [0, 0] })
  })

  test('has body, train and rating in SI', () => {
    const [swing] = load(
      swingWith(
        'body:',
        '  mass: "1200 g"',
        '  centre: ["1 cm", "-20 mm", "0.3 m"]',
        '  inertia: { xx: "0.01 kg m2", yy: "80 kg cm2", zz: "5000 kg mm2", xy: "-5e3 g cm2" }',
        'train: { rotor: "200 kg cm2", viscous: "0.1 N m s/rad", coulomb: ["0.5 N m", "-0.4 N m"] }',
        'rating: { continuous: "12 N m", peak: "28 N m", warm-up: "5 min" }',
      ),
    ).joints
    const { mass, centre, inertia } = swing!.body!
    expect(mass).toBeCloseTo(1.2, 15)
    for (const [i, x] of [0.01, -0.02, 0.3].entries()) expect(centre[i]).toBeCloseTo(x, 15)
    for (const [i, x] of [0.01, 0.008, 0.005, -0.0005, 0, 0].entries()) expect(inertia[i]).toBeCloseTo(x, 15)
    expect(swing!.train).toEqual({ rotor: 0.02, viscous: 0.1, coulomb: [0.5, -0.4] })
    expect(swing!.rating).toEqual({ continuous: 12, peak: 28, warmUp: 300 })
  })

  test('bears its torque limit for a moment when its rating states no peak', () => {
    const [swing] = load(swingWith('rating: { continuous: "12 N m" }')).joints
    expect(swing!.rating).toEqual({ continuous: 12, peak: 30, warmUp: null })
  })

  test('may be as flat as a plate, whose moments just keep the triangle inequality', () => {
    const plate =
      'body: { mass: "1 kg", centre: ["0 m", "0 m", "0 m"], inertia: { xx: "0.1 kg m2", yy: "0.2 kg m2", zz: "0.3 kg m2" } }'
    expect(load(swingWith(plate)).joints[0]!.body!.inertia[2]).toBe(0.3)
  })

  test('keeps all of it in the text of a recording', () => {
    const text = swingWith(
      'body: { mass: "1 kg", centre: ["0 m", "0 m", "0 m"], inertia: { xx: "1 kg m2", yy: "1 kg m2", zz: "1 kg m2" } }',
      'rating: { continuous: "12 N m" }',
    )
    const resolved = resolvedRigText(text, watchSchemas)
    expect(loadRig(resolved, 'resolved', watchSchemas)).toEqual(load(text))
    expect(resolved).toContain('xy: 0 kg m2')
    expect(resolved).toContain('viscous: 0 N m s/rad')
  })
})

test('a blade may fill its length times its width, and no more', () => {
  const blade = (area: string) => () =>
    load(
      change(
        small,
        /area: "0.03 m2", length: "0.2 m", width: "0.16 m"/,
        `area: "${area}", length: "20 cm", width: "15 cm"`,
      ),
    )
  expect(blade('300 cm2')().arms[0]!.paddle.area).toBeCloseTo(0.03, 15)
  expect(blade('301 cm2')).toThrow(/area: found "301 cm2"; expected at most 0.03 m2/)
})
