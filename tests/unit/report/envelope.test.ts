import { describe, expect, it } from 'vitest'
import type { Cruise, Study } from '../../../src/motion/cruise.js'
import type { Boundary, Limit, PlacedCommand, SideLimit } from '../../../src/motion/envelope.js'
import { envelopeText } from '../../../src/report/envelope.js'
import { shareTold, stretchesOf } from '../../../src/report/envelope-words.js'
import { envelopeHtml } from '../../../src/report/page/envelope.js'
import { lettered } from '../../../src/report/page/envelope-chart.js'

const limit = (side: 'port' | 'starboard', item: Limit['item'] = 'joint acceleration'): Limit => ({
  ...{ item, side, place: `${side}.elbow`, phase: 0.5125 },
  ...{ inWater: null, says: 'limit 1500 deg/s2' },
})

const NAMES = [
  'ahead',
  'arc to port',
  'port side parked',
  'pivot to port',
  'astern',
  'pivot to starboard',
  'starboard side parked',
  'arc to starboard',
]

/** Each side bears 0.5 m/s either way on a track of 2 m; starboard's acceleration gives out ahead, port's torque astern. */
const end = (degrees: number): Boundary => {
  const direction = (degrees * Math.PI) / 180
  const [surge, turn] = [Math.cos(direction), Math.sin(direction)]
  const [port, starboard] = [surge - turn, surge + turn]
  const length = 0.5 / Math.max(Math.abs(port), Math.abs(starboard))
  const limits = [
    ...(Math.abs(Math.abs(port) * length - 0.5) < 1e-6
      ? [limit('port', port > 0 ? 'joint acceleration' : 'torque')]
      : []),
    ...(Math.abs(Math.abs(starboard) * length - 0.5) < 1e-6 ? [limit('starboard')] : []),
  ]
  return {
    direction,
    length,
    surge: length * surge,
    yaw: length * turn,
    port: length * port,
    starboard: length * starboard,
    limits,
  }
}

const side = (name: 'port' | 'starboard', way: 'ahead' | 'astern'): SideLimit => ({
  ...{ side: name, way, afloat: false, reach: 1, speed: 0.5, limit: limit(name), cadence: 0.75 },
  strains: [
    { item: 'joint speed', joint: `${name}.roll`, value: 1, limit: 2, share: 0.5, unit: 'rad/s', phase: 0.1 },
    {
      item: 'joint acceleration',
      joint: `${name}.elbow`,
      value: 20,
      limit: 20,
      share: 1,
      unit: 'rad/s2',
      phase: 0.5,
    },
  ],
})

const command = (scenario: string, surge: number, share: number): PlacedCommand => ({
  ...{ scenario, at: 1, surge, yaw: 0, share, shares: { dry: share, afloat: null }, boundary: end(0) },
})

const sample = (changes: Partial<Study> = {}): Study => ({
  rig: 'a skiff <b>',
  track: 2,
  boundary: Array.from({ length: 16 }, (_, i) => end((i * 360) / 16)),
  afloat: null,
  lacksAfloat: 'the section water',
  named: NAMES.map((name, i) => ({
    name,
    dry: end([0, 22.5, 45, 90, 180, 270, 315, 337.5][i]!),
    afloat: null,
  })),
  sides: (['port', 'starboard'] as const).flatMap((s) =>
    (['ahead', 'astern'] as const).map((way) => side(s, way)),
  ),
  leastDistance: 0.05,
  approaches: [{ sides: ['port'], distance: 0.123, between: ['port.blade', 'hull'] }],
  cruise: null,
  commands: [command('slow <i>', 0.25, 0.5), command('fast', 0.6, 1.2), command('as fast', 0.6, 1.2)],
  assumptions: [
    'Steady strokes, a long sentence of assumption that must be broken somewhere because eighty columns are all there is.',
  ],
  ...changes,
})

const about = { rigFile: 'rigs/skiff.yaml', scenarios: 3, notes: ['of <another> file'] }

describe('stretches of the boundary', () => {
  it('are the sides of the rectangle, each from corner to corner', () => {
    const all = stretchesOf(sample())
    const told = all.map(({ limit: l, boundary }) => [
      `${l.side} ${l.item}`,
      ...[boundary[0]!, boundary.at(-1)!].map(({ direction }) => Math.round((direction * 180) / Math.PI)),
    ])
    expect(told).toEqual([
      ['starboard joint acceleration', 0, 90],
      ['port torque', 90, 180],
      ['starboard joint acceleration', 180, 270],
      ['port joint acceleration', 270, 0],
    ])
  })

  it('are one where one thing gives out everywhere', () => {
    const load: Limit = {
      item: 'bus load',
      side: null,
      place: 'port-can',
      phase: null,
      inWater: null,
      says: '120 % of what it carries',
    }
    const [only, ...others] = stretchesOf({
      boundary: sample().boundary.map((b) => ({ ...b, limits: [load] })),
    })
    expect(others).toEqual([])
    expect(only!.boundary).toHaveLength(17)
  })
})

describe('a share', () => {
  it.each([
    [0.3299, '32 %'],
    [0.9999, '99 %'],
    [1, '100 %'],
    [1.0001, '101 %'],
    [1.206, '121 %'],
    [Number.POSITIVE_INFINITY, 'no way'],
  ])('%d is told as %s: what is inside never reads as outside, nor the other way about', (share, told) => {
    expect(shareTold(share)).toBe(told)
  })
})

/** The same where water takes a fifth of it, port's torque in it giving out first. */
const nearer = (b: Boundary): Boundary => ({
  ...b,
  ...{ length: 0.8 * b.length, surge: 0.8 * b.surge, yaw: 0.8 * b.yaw, port: 0.8 * b.port },
  ...{ starboard: 0.8 * b.starboard, limits: [{ ...limit('port', 'torque'), inWater: 'standing start' }] },
})
const wet = (changes: Partial<Study> = {}): Study => {
  const { boundary, named } = sample()
  const afloat = boundary.map(nearer)
  const both = named.map((n) => ({ ...n, afloat: nearer(n.dry) }))
  return sample({ afloat, lacksAfloat: null, named: both, ...changes })
}

const CRUISE: Cruise = {
  placed: { surge: 0.3, yaw: 0.1, share: 0.7512, shares: { dry: 0.6, afloat: 0.7512 }, boundary: end(0) },
  ...{ surge: 0.2, sway: -0.05, yaw: 0.08, speed: 0.20616, wander: 0.0123 },
  sides: [
    { side: 'port', way: 'ahead', reach: 1, speed: 0.2, cadence: 0.4 },
    { side: 'starboard', way: 'ahead', reach: 1, speed: 0.4, cadence: 0.6 },
  ],
  power: { driving: 40, braking: 10, friction: 20, slip: 8, hull: 2 },
  battery: {
    drawn: 60,
    current: 2.5,
    time: 5400,
    range: 1113,
    energyPerMetre: 291,
    assumptions: ['A <u>battery</u>.'],
  },
  assumptions: ['Still water.', 'A <u>battery</u>.'],
}

describe('the envelope on a terminal', () => {
  const text = envelopeText(sample(), about, 80)

  it('keeps to its width and ends with a newline', () => {
    for (const columns of [80, 100]) {
      const lines = envelopeText(sample(), about, columns).split('\n')
      for (const line of lines) expect(line.length, line).toBeLessThanOrEqual(columns)
      expect(lines.at(-1)).toBe('')
    }
  })

  it('says the greatest commands, what gives out, the sides, and where each scenario lies', () => {
    expect(text).toMatch(/^ {2}ahead +0\.500 m\/s +0\.00 deg\/s +joint acceleration, port\.elbow$/m)
    expect(text).toMatch(/^ {2}astern +-0\.500 m\/s +0\.00 deg\/s +torque, port\.elbow; joint$/m)
    expect(text).toMatch(/^ {2}pivot to starboard +0\.000 m\/s +-28\.64 deg\/s/m)
    expect(text).toMatch(/^ {3}90 to 180 deg {2}port\.elbow: torque, limit 1500 deg\/s2,/m)
    expect(text).toMatch(/^ {2}port +ahead +0\.500 +45\.0 +50 % +100 % +- +- +-$/m)
    expect(text).toMatch(/^ {2}fast +0\.6 m\/s +0 deg\/s +120 % OUTSIDE: joint/m)
    expect(text).toMatch(/^ {2}slow <i> +0\.25 m\/s +0 deg\/s +50 %$/m)
    expect(text).toMatch(/^Outside: 2 of 3 commands, in fast, as fast\.$/m)
    expect(text).toContain(
      'Least distance on steady strokes 0.12 m, port.blade and hull; at least 0.05 m is\n  asked.',
    )
    expect(text).toContain('no limits of safety')
  })

  it('says that nothing is borne', () => {
    const none = { length: 0, surge: 0, yaw: 0 }
    const still = sample({
      boundary: sample().boundary.map((b) => ({ ...b, ...none })),
      named: sample().named.map((n) => ({ ...n, dry: { ...n.dry, ...none } })),
    })
    const told = envelopeText(still, about, 80)
    expect(told).toMatch(/^ {2}ahead +none +joint acceleration/m)
    expect(told).toContain('No command is borne')
  })
})

describe('the envelope afloat on a terminal', () => {
  const text = envelopeText(wet({ cruise: CRUISE }), about, 80)

  it('stands beside that on dry land where they differ, and in one sentence', () => {
    expect(text).toMatch(
      /^ {2}ahead +0\.500 m\/s.*\n.*\n {4}afloat +0\.400 m\/s +0\.00 deg\/s +torque afloat, standing start,$/m,
    )
    expect(text).toContain('Afloat it ends nearer in every direction, by 20 % at most')
    expect(text).toMatch(/^All around, on dry land; 0 deg is ahead/m)
    expect(text).toMatch(
      /^All around, afloat\n {2}everywhere {6}port\.elbow: torque afloat, standing start, limit/m,
    )
    for (const line of text.split('\n')) expect(line.length, line).toBeLessThanOrEqual(80)
  })

  it('says that water changes nothing where it does not, and what lacks where nobody knows', () => {
    const { boundary, named } = sample()
    const alike = sample({
      afloat: boundary,
      lacksAfloat: null,
      named: named.map((n) => ({ ...n, afloat: n.dry })),
    })
    expect(envelopeText(alike, about, 80)).toContain('Afloat it is the same in every direction')
    expect(envelopeText(alike, about, 80)).not.toMatch(/^ {4}afloat|All around, afloat/m)
    expect(envelopeText(sample(), about, 80)).toContain(
      'Torque afloat was not looked at: the rig lacks the section water.',
    )
  })

  it('has what to expect of a cruise, and what that rests on', () => {
    expect(text).toMatch(/^Cruise at 0\.3 m\/s and 5\.73 deg\/s: what to expect of it afloat$/m)
    expect(text).toMatch(/^ {2}craft speed +0\.206 m\/s \(0\.742 km\/h\) ahead, drifting to starboard at$/m)
    expect(text).toContain('turning to port at 4.58 deg/s')
    expect(text).toMatch(/^ {2}cadence +port 24 1\/min ahead, blade at 0\.2 m\/s; starboard 36 1\/min$/m)
    expect(text).toMatch(/^ {2}power of the joints +30 W: 40 W driving less 10 W braking/m)
    expect(text).toMatch(/^ {2}energy +80\.8 W h\/km$/m)
    expect(text).toMatch(/^ {2}endurance +1\.5 h$/m)
    expect(text).toMatch(/^ {2}range +1\.11 km along its curve$/m)
    expect(text).toContain('Inside, at 75 % of the way to the boundary.')
    expect(text).toMatch(/^ {2}- Still water\.$/m)
  })

  it('says which section to add where the rig states no battery, and when the arms do not bear it', () => {
    const placed = { ...CRUISE.placed, share: 1.3 }
    const lacking = envelopeText(sample({ cruise: { ...CRUISE, placed, battery: null } }), about, 80)
    expect(lacking.replace(/\s+/g, ' ')).toContain(
      'endurance not told: the rig states no battery; add the section battery',
    )
    expect(lacking.replace(/\s+/g, ' ')).toContain(
      'OUTSIDE, at 130 % of the way to the boundary: joint acceleration, port.elbow',
    )
  })
})

describe('the page of an envelope', () => {
  const html = envelopeHtml(sample(), about)
  const text = html.replace(/<style>[\s\S]*?<\/style>|<[^>]*>/g, ' ').replace(/\s+/g, ' ')

  it('loads nothing, runs nothing, and takes no markup from files', () => {
    expect(html).not.toMatch(/<script|<img|<link|https?:|url\(|<b>|<i>|<another>/)
    expect(html).toContain("default-src 'none'")
    expect(text).toContain('a skiff &lt;b&gt;')
  })

  it('names each part of the line by number, and draws it with a dash pattern of its own', () => {
    const dashes = [...html.matchAll(/<polyline class="edge" stroke-dasharray="([^"]*)"/g)].map((m) => m[1])
    expect(new Set(dashes).size).toBe(4)
    for (const n of [1, 2, 3, 4])
      expect(html.match(new RegExp(`class="numeral"[^>]*>${n}</text>`, 'g'))).toHaveLength(2)
    expect(text).toContain('port.elbow: torque, limit 1500 deg/s2, phase 0.512')
  })

  it('has surge upwards and port to the left', () => {
    const [points] = [...html.matchAll(/<polygon class="inside" points="([^"]*)"/g)].map((m) => m[1]!)
    const places = points!.split(' ').map((p) => p.split(',').map(Number))
    const [bow, port] = [places[0]!, places[4]!]
    expect(bow[1]).toBeLessThan(port[1]!)
    expect(port[0]).toBeLessThan(bow[0]!)
    // One scale for both: a pivot at 0.5 m/s of the sides is as far out as 0.5 m/s ahead.
    expect(port[1]! - bow[1]!).toBeCloseTo(bow[0]! - port[0]!, 0)
  })

  it('marks commands inside and outside by shape, with one letter for those that are alike', () => {
    expect(
      html.match(/<svg viewBox="0 0 620[\s\S]*?<\/svg>/)![0].match(/<circle class="command"/g),
    ).toHaveLength(1)
    expect(
      html.match(/<svg viewBox="0 0 620[\s\S]*?<\/svg>/)![0].match(/<path class="outside"/g),
    ).toHaveLength(1)
    expect(lettered(sample().commands).map(({ letter, scenarios }) => [letter, ...scenarios])).toEqual([
      ['a', 'fast', 'as fast'],
      ['b', 'slow <i>'],
    ])
    const many = lettered(Array.from({ length: 28 }, (_, i) => command(`s${i}`, i / 100, i / 10)))
    expect(many.slice(25).map(({ letter }) => letter)).toEqual(['z', 'aa', 'ab'])
  })
})

describe('the page of an envelope afloat', () => {
  const html = envelopeHtml(wet({ cruise: CRUISE }), about)
  const text = html.replace(/<style>[\s\S]*?<\/style>|<[^>]*>/g, ' ').replace(/\s+/g, ' ')
  const [chart] = html.match(/<svg viewBox="0 0 620 \d+" role="img" aria-labelledby[\s\S]*?<\/svg>/)!
  const places = (points: string) =>
    points.split(' ').map((p) => p.split(',').map(Number) as [number, number])
  const points = (look: string) =>
    places(chart.match(new RegExp(`<polygon class="${look}" points="([^"]*)"`))![1]!)

  it('draws both lines, that of dry land thin and a quarter farther out', () => {
    const [inside, dry] = [points('inside'), points('dry')]
    const middle = (inside[0]![1] + inside[8]![1]) / 2
    expect((middle - dry[0]![1]) / (middle - inside[0]![1])).toBeCloseTo(1 / 0.8, 2)
    expect(html.match(/<polyline class="edge"/g)).toHaveLength(1)
    expect(text).toContain('On dry land: the thin line')
    expect(text).toContain('ahead on dry land 0.500 m/s')
    expect(text).toContain('ahead afloat 0.400 m/s')
  })

  it('draws one line where they are alike', () => {
    expect(envelopeHtml(sample(), about)).not.toContain('class="dry"')
  })

  it('keeps the samples of a key small: no rule for the pictures of a figure takes them along', () => {
    const rules = [...html.matchAll(/([^{}]+){[^{}]*width: 100%[^{}]*}/g)].map(([, selector]) =>
      selector!.trim(),
    )
    expect(html).toContain('<figure class="power">')
    expect(html.match(/<figure class="power">.*?<ul class="key">.*?<svg/s)).not.toBeNull()
    expect(rules.filter((selector) => /(^|[ ,])\.power svg/.test(selector))).toEqual([])
    expect(rules).toContain('.power > svg')
  })

  it('marks the command of the cruise, and has its figures with what they rest on', () => {
    const mark = chart.match(/class="cruise-mark" d="M([\d.]+) ([\d.]+)l/)!
    // 0.3 m/s ahead, 0.1 rad/s to port: on one scale a third as far to the left as up.
    const [inside] = [points('inside')]
    const [x, y] = [(inside[0]![0] + inside[8]![0]) / 2, (inside[0]![1] + inside[8]![1]) / 2]
    expect((x - Number(mark[1])) / (y - (Number(mark[2]) + 7))).toBeCloseTo(1 / 3, 1)
    expect(text).toContain('energy 80.8 W h/km')
    expect(text).toContain('A &lt;u&gt;battery&lt;/u&gt;.')
    expect(html).not.toContain('<u>')
    const bars = [
      ...html.matchAll(/<rect class="part\d" x="[\d.]+" y="1" width="([\d.]+)" height="22"/g),
    ].map((m) => Number(m[1]))
    // Slip 8 W, friction 20, hull 2, braked away 10: of 620.
    expect(bars.map((b) => Math.round((b + 1) / 15.5))).toEqual([8, 20, 2, 10])
  })
})
