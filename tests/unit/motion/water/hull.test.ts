import { describe, expect, test } from 'vitest'
import { ellipsoidFactors, hullAddedMass } from '../../../../src/motion/water/added-mass.js'
import { DragTable } from '../../../../src/motion/water/drag-table.js'
import { armHeels, HEEL_CAUTION, heel } from '../../../../src/motion/water/heel.js'
import { FrictionDrag, frictionLine, hullSpeed } from '../../../../src/motion/water/hull-drag.js'
import { freshWater } from '../../../../src/motion/water/properties.js'

const WATER = freshWater(15)
const WETTED = { length: 4, area: 3, formFactor: 0.2 }
const HULL = { length: 4, beam: 1.1, draught: 0.14, mass: 180 }

describe('friction drag', () => {
  const drag = new FrictionDrag(WETTED, WATER)

  test('is odd, rises with speed, has no pole at rest', () => {
    let before = 0
    for (let v = 1e-4; v < 4; v *= 1.1) {
      const force = drag.force(v)
      expect(force).toBeGreaterThan(before)
      expect(drag.force(-v)).toBe(-force)
      before = force
    }
    expect(drag.force(0)).toBe(0)
  })

  test('the line is held below a Reynolds number of 1e5, without a step', () => {
    expect(frictionLine(0)).toBe(frictionLine(1e5))
    expect(frictionLine(100)).toBe(frictionLine(1e5))
    expect(frictionLine(1.0001e5) / frictionLine(1e5)).toBeCloseTo(1, 4)
  })
})

describe('a drag table', () => {
  const rows = [
    { speed: 0.8, force: 1.1 },
    { speed: 1.5, force: 3.9 },
    { speed: 3, force: 28 },
  ]
  const table = new DragTable(rows)

  test('meets its rows, is odd, never falls, and goes on by the square', () => {
    for (const { speed, force } of rows) {
      expect(table.force(speed)).toBeCloseTo(force, 12)
      expect(table.force(-speed)).toBeCloseTo(-force, 12)
    }
    let before = 0
    for (let v = 0; v < 6; v += 0.001) {
      const force = table.force(v)
      expect(force).toBeGreaterThanOrEqual(before)
      before = force
    }
    expect(table.force(6)).toBeCloseTo(4 * 28, 12)
    expect(table.top).toBe(3)
  })

  test('a row for no speed may stand there', () => {
    const given = new DragTable([{ speed: 0, force: 0 }, ...rows])
    for (let v = -4; v < 4; v += 0.1) expect(given.force(v)).toBe(table.force(v))
  })

  test.each([
    [[], 'hull.drag has 0 rows with a speed above zero; expected two or more'],
    [[[1, 2]], 'hull.drag has 1 rows with a speed above zero'],
    [
      [
        [0, 0],
        [1, 2],
      ],
      'hull.drag has 2 rows with a speed above zero',
    ],
    [
      [
        [0, 1],
        [1, 2],
        [2, 3],
      ],
      'hull.drag, row 1: force at no speed is 1 N; expected 0 N',
    ],
    [
      [
        [1, 2],
        [1, 3],
      ],
      'hull.drag, row 2: speed is 1 m/s; expected more than 1 m/s, rows by rising speed',
    ],
    [
      [
        [-1, 2],
        [1, 3],
      ],
      'hull.drag, row 1: speed is -1 m/s; expected more than 0',
    ],
    [
      [
        [1, 2],
        [2, 1],
      ],
      'hull.drag, row 2: force is 1 N; expected 2 N or more, drag does not fall with speed',
    ],
    [
      [
        [1, 0],
        [2, 1],
      ],
      'hull.drag, row 1: force is 0 N; expected more than 0 N',
    ],
    [
      [
        [1, 2],
        [2, Number.NaN],
      ],
      'hull.drag, row 2: 2 m/s, NaN N; expected two finite numbers',
    ],
  ])('%j: %s', (flat, message) => {
    expect(() => new DragTable(flat.map(([speed, force]) => ({ speed: speed!, force: force! })))).toThrow(
      message,
    )
  })
})

describe('added mass', () => {
  test('the three integrals of an ellipsoid add up to 2, whichever axis is which', () => {
    // alpha = 2 k / (1 + k); the third axis comes in by swapping.
    const share = (k: number) => (2 * k) / (1 + k)
    for (const [a, b, c] of [
      [2, 0.6, 0.12],
      [3, 1, 0.9],
      [1, 0.3, 4],
    ] as const) {
      const { surge, sway } = ellipsoidFactors(a, b, c)
      const heave = ellipsoidFactors(a, c, b).sway
      expect(share(surge) + share(sway) + share(heave)).toBeCloseTo(2, 12)
    }
  })

  test('of a hull: little along it, more athwart, in the order of the published estimates', () => {
    const added = hullAddedMass(HULL, WATER)
    expect(added.surge / HULL.mass).toBeGreaterThan(0)
    expect(added.surge / HULL.mass).toBeLessThan(0.2)
    expect(added.sway).toBeGreaterThan(3 * added.surge)
    expect(added.yaw).toBeGreaterThan(0)
    // Deeper at the same mass: more athwart.
    expect(hullAddedMass({ ...HULL, draught: 0.3 }, WATER).sway).toBeGreaterThan(added.sway)
  })
})

test('heel to either side, both arms or one that hangs dead', () => {
  const craft = { displacement: 180, metacentricHeight: 0.3 }
  const port = { side: 'port', mass: 6, outboard: 0.5, inboard: 0.4 } as const
  const starboard = { side: 'starboard', mass: 5, outboard: 0.6, inboard: 0.2 } as const
  const heels = armHeels([port, starboard], craft)
  const tan = (moment: number) => Math.atan(moment / 54)
  expect(heels.toPort).toBeCloseTo(tan(3 + 1), 12)
  expect(heels.toStarboard).toBeCloseTo(-tan(2.4 + 3), 12)
  expect(heels.dead[0]).toBeCloseTo(tan(3), 12)
  expect(heels.dead[1]).toBeCloseTo(-tan(3), 12)
  expect(HEEL_CAUTION).toMatch(/aid.*still water.*small angles/)
})

test.each([
  [() => freshWater(-0.1), 'water.temperature is -0.1 degC; expected from 0 to 40 degC'],
  [() => freshWater(41), 'water.temperature is 41 degC'],
  [() => freshWater(Number.NaN), 'water.temperature is NaN degC'],
  [() => hullSpeed(0), 'hull.length is 0 m'],
  [() => new FrictionDrag({ ...WETTED, area: -1 }, WATER), 'hull.wetted-area is -1 m2'],
  [() => new FrictionDrag({ ...WETTED, length: 0 }, WATER), 'hull.wetted-length is 0 m'],
  [
    () => new FrictionDrag({ ...WETTED, formFactor: -0.1 }, WATER),
    'hull.form-factor is -0.1; expected zero or more',
  ],
  [
    () => hullAddedMass({ ...HULL, beam: 5 }, WATER),
    'hull.beam is 5 m, hull.length 4 m; expected a hull that is longer than wide',
  ],
  [
    () => hullAddedMass({ ...HULL, draught: 0.03 }, WATER),
    'carries 131.9 kg at most; give the draught of the laden craft',
  ],
  [() => hullAddedMass({ ...HULL, mass: 0 }, WATER), 'craft.mass is 0 kg'],
  [
    () => heel(1, { displacement: 60, metacentricHeight: 0 }),
    'hull.metacentric-height is 0 m; expected more than zero',
  ],
  [() => heel(1, { displacement: -60, metacentricHeight: 1 }), 'hull.displacement is -60 kg'],
  [
    () =>
      armHeels(
        [
          { side: 'port', mass: 1, outboard: -1, inboard: 0 },
          { side: 'starboard', mass: 1, outboard: 0, inboard: 0 },
        ],
        { displacement: 1, metacentricHeight: 1 },
      ),
    'arm port: outboard is -1 m; expected zero or more',
  ],
])('%s: %s', (make, message) => {
  expect(make).toThrow(message)
})
