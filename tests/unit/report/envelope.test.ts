import { describe, expect, it } from 'vitest'
import type { Boundary, Envelope, Limit, PlacedCommand, SideLimit } from '../../../src/motion/envelope.js'
import { envelopeText } from '../../../src/report/envelope.js'
import { shareTold, stretchesOf } from '../../../src/report/envelope-words.js'
import { envelopeHtml } from '../../../src/report/page/envelope.js'
import { lettered } from '../../../src/report/page/envelope-chart.js'

const limit = (side: 'port' | 'starboard', item: Limit['item'] = 'joint acceleration'): Limit => ({
  ...{ item, side, place: `${side}.elbow`, phase: 0.5125, says: 'limit 1500 deg/s2' },
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
  ...{ side: name, way, reach: 1, speed: 0.5, limit: limit(name), cadence: 0.75 },
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
  ...{ scenario, at: 1, surge, yaw: 0, share, boundary: end(0) },
})

const sample = (changes: Partial<Envelope> = {}): Envelope => ({
  rig: 'a skiff <b>',
  track: 2,
  boundary: Array.from({ length: 16 }, (_, i) => end((i * 360) / 16)),
  named: NAMES.map((name, i) => ({ name, boundary: end([0, 22.5, 45, 90, 180, 270, 315, 337.5][i]!) })),
  sides: (['port', 'starboard'] as const).flatMap((s) =>
    (['ahead', 'astern'] as const).map((way) => side(s, way)),
  ),
  leastDistance: 0.05,
  approaches: [{ sides: ['port'], distance: 0.123, between: ['port.blade', 'hull'] }],
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
      named: sample().named.map((n) => ({ ...n, boundary: { ...n.boundary, ...none } })),
    })
    const told = envelopeText(still, about, 80)
    expect(told).toMatch(/^ {2}ahead +none +joint acceleration/m)
    expect(told).toContain('No command is borne')
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
