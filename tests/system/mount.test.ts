/**
 * Mount and heel end to end: what `drystroke check` and a run say of them, against the closed forms of the project's check values 9 (cantilever:
 * E 68.9 GPa, 2700 kg/m3, 0.5 m, 20 N) and 6 (heel). With a mass at the tip check values 9 have Rayleigh's approximation, 22.258 Hz; the exact
 * root is 22.254 Hz (tests/outside/mount.test.ts).
 */
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Line } from '../../src/preflight/line.js'
import { drystroke } from '../setup/command.js'
import { change, DEMO_RIG, FRAMES_RIG, play, temporaryFolder } from '../setup/runs.js'

const folder = temporaryFolder()
const STILL = `name: still
about: Nothing is asked for.
duration: "1 s"
expect: { outcome: finish, parked: true }
`
/** One side strokes at 0.3 m/s, the other faster. */
const ARC = `name: arc
about: Strokes of both sides, the starboard one faster.
duration: "14 s"
commands:
  - { at: "0.2 s", surge: "0.3 m/s", yaw: "4 deg/s", over: "0.3 s" }
  - { at: "13 s", surge: "0 m/s", yaw: "0 deg/s", over: "0.3 s" }
expect: { outcome: finish, parked: true }
`

interface Checked {
  readonly lines: readonly Line[]
  readonly unchecked: readonly string[]
  readonly cautions: readonly string[]
}

let files = 0
function checkFiles(rig: string, scenario: string): { rig: string; scenario: string } {
  const at = { rig: join(folder, `rig-${++files}.yaml`), scenario: join(folder, `scenario-${files}.yaml`) }
  writeFileSync(at.rig, rig)
  writeFileSync(at.scenario, scenario)
  return at
}

function check(rigText: string, scenarioText: string): Checked {
  const { rig, scenario } = checkFiles(rigText, scenarioText)
  return JSON.parse(drystroke('check', scenario, '--rig', rig, '--json').stdout)
}
const lineOf = ({ lines }: Checked, check: string): Line => lines.find((line) => line.check === check)!

/** The demo rig with another mount. */
const withMount = (...lines: string[]): string =>
  change(DEMO_RIG, /\nmount:[\s\S]*?\n\n/, `\nmount:\n${lines.map((line) => `  ${line}\n`).join('')}\n`)
/** 20 N of paddle at rest: 20 N / 9.80665 m/s2. */
const HEAVY = (rig: string) =>
  rig.replaceAll('paddle: { mass: "0.5 kg"', 'paddle: { mass: "2.0394324259558566 kg"')
const section = (inertia: string, perLength: string) =>
  `section: { modulus: "68.9 GPa", inertia: "${inertia}", mass-per-length: "${perLength}" }`

describe('check values 9, through the command', () => {
  it.each([
    {
      name: 'solid',
      inertia: '13333.3333 mm4',
      perLength: '1.08 kg/m',
      mm: 0.90711,
      bare: 65.283,
      laden: 22.254,
    },
    { name: 'tube', inertia: '7872 mm4', perLength: '0.3888 kg/m', mm: 1.53644, bare: 83.603, laden: 17.756 },
  ])('20x20 $name', ({ inertia, perLength, mm, bare, laden }) => {
    const rig = (tip: string) =>
      HEAVY(withMount('length: "0.5 m"', section(inertia, perLength), `tip-mass: "${tip}"`, 'reach: "0 m"'))
    const found = check(rig('1 kg'), STILL)
    expect(lineOf(found, 'mount frequency').value.toFixed(3)).toBe(laden.toFixed(3))
    const deflection = lineOf(found, 'deflection')
    expect((1e3 * deflection.value).toFixed(5)).toBe(mm.toFixed(5))
    expect(deflection.says).toContain('under 20 N on the blade')
    expect(lineOf(found, 'mount stiffness').value / (20 / (mm / 1e3))).toBeCloseTo(1, 5)
    // All but no mass at the tip.
    const empty = lineOf(check(rig('0.000000001 kg'), STILL), 'mount frequency')
    expect(empty.value.toFixed(3)).toBe(bare.toFixed(3))
  })

  it('with a blade beyond the end of the beam: P ((L + a)^3 - a^3) / 3 E I', () => {
    const beam = section('13333.3333 mm4', '1.08 kg/m')
    const rig = withMount('length: "0.5 m"', beam, 'tip-mass: "1 kg"', 'reach: "0.9 m"')
    const way = (20 * (1.4 ** 3 - 0.9 ** 3)) / (3 * 68.9e9 * (0.02 ** 4 / 12))
    expect(lineOf(check(HEAVY(rig), STILL), 'deflection').value / way).toBeCloseTo(1, 6)
  })

  it('a measured deflection says the same as the section', () => {
    const measured = 'measured: { load: "20 N", deflection: "0.907112 mm", mass: "0.54 kg" }'
    const rig = withMount('length: "0.5 m"', measured, 'tip-mass: "1 kg"', 'reach: "0 m"')
    const found = check(HEAVY(rig), STILL)
    expect(lineOf(found, 'mount frequency').value.toFixed(3)).toBe('22.254')
    expect((1e3 * lineOf(found, 'deflection').value).toFixed(5)).toBe('0.90711')
    expect(lineOf(found, 'mount stiffness').says).toContain('as it was measured')
  })
})

describe('what shakes the mount', () => {
  /** A mount of this frequency (Hz): 8.5 kg on a spring without mass. */
  const ringing = (hertz: number, ...more: string[]) => {
    const load = 8.5 * (2 * Math.PI * hertz) ** 2 * 0.01
    const measured = `measured: { load: "${load} N", deflection: "10 mm" }`
    return withMount('length: "0.25 m"', measured, 'tip-mass: "8.5 kg"', 'reach: "0.7 m"', ...more)
  }

  it('a measured line: a warning within the margin, none outside it', () => {
    const lines = (margin: string) =>
      check(ringing(20, 'lines: ["15 Hz", "16.5 Hz", "23.9 Hz", "24.1 Hz"]', `margin: "${margin}"`), STILL)
        .lines.filter((line) => line.check === 'vibration line')
        .map(({ level, value, limit }) => [level, Number(value.toFixed(4)), limit])
    expect(lines('20 %')).toEqual([
      ['pass', 0.25, 0.2],
      ['warn', 0.175, 0.2],
      ['warn', 0.195, 0.2],
      ['pass', 0.205, 0.2],
    ])
    expect(lines('10 %').map(([level]) => level)).toEqual(['pass', 'pass', 'pass', 'pass'])
  })

  it('harmonics of strokes, both sides: by check and in the verdict of the run, within the margin and not outside it', async () => {
    const cadence = lineOf(check(DEMO_RIG, ARC), 'cadence')
    expect(cadence.place).toBe('starboard')
    // The third harmonic of the fastest strokes, and no other of any stroke within 3 %.
    const near = ringing(3 * cadence.value * 1.02, 'harmonics: 3', 'margin: "3 %"')
    const line = lineOf(check(near, ARC), 'stroke harmonic')
    expect(line).toMatchObject({
      level: 'warn',
      place: 'starboard',
      scenarios: ['arc'],
      unit: 'share',
      limit: 0.03,
    })
    expect(line.value).toBeCloseTo(1 - 1 / 1.02, 3)
    expect(line.says).toMatch(
      /^harmonic 3 of [\d.]+ strokes\/min, [\d.]+ Hz, [\d.]+ % below the mount's [\d.]+ Hz, a warning within 3 %$/,
    )
    const shaken = await play(folder, near, ARC)
    const found = shaken.verdict.findings.filter(({ quantity }) => quantity === 'stroke harmonic')
    expect(found.map(({ severity, watch, place }) => [severity, watch, place])).toEqual([
      ['warning', 'sense', 'starboard'],
    ])
    expect(Math.abs(found[0]!.value - line.value)).toBeLessThan(0.01)
    expect(shaken.verdict.outcome).toBe('pass')

    // The same strokes, and a mount that rings higher than three harmonics reach.
    const far = ringing(3 * cadence.value * 1.3, 'harmonics: 3', 'margin: "20 %"')
    expect(lineOf(check(far, ARC), 'stroke harmonic')).toMatchObject({ level: 'pass' })
    const { verdict } = await play(folder, far, ARC)
    expect(verdict.findings.filter(({ quantity }) => quantity === 'stroke harmonic')).toEqual([])
    const figures = verdict.watches.find(({ watch }) => watch === 'sense')!.figures
    const off = figures.filter(({ name }) => name === 'nearest stroke harmonic, off the mount by')
    expect(off.map(({ place, limit }) => [place, limit])).toEqual([
      ['port', 0.2],
      ['starboard', 0.2],
    ])
    expect(off[1]!.value).toBeCloseTo(1 - 1 / 1.3, 2)
  })

  it('the force that bends it is the one that the load watch finds in the measured motion of exact encoders, to 5 %', async () => {
    // Noise of encoders makes the most that is measured larger: its second derivative, with the water that the blade takes along.
    const exact = change(DEMO_RIG, 'noise: "1 counts"', 'noise: "0 counts"')
    const line = lineOf(check(exact, ARC), 'deflection')
    const [, force] = /under ([\d.]+) N on the blade, of water/.exec(line.says)!
    const { verdict } = await play(folder, exact, ARC)
    const load = verdict.watches.find(({ watch }) => watch === 'load')!.figures
    const carried = load.find((f) => f.place === line.place && f.name === 'payload used, afloat')!
    // Of 1.5 kg.
    expect(Math.abs((1.5 * carried.value * 9.80665) / Number(force) - 1)).toBeLessThan(0.05)
  })

  it('on a rig that states neither water nor hull the blade bears weight and inertia alone, and that is said', () => {
    const bare = change(DEMO_RIG, /\nwater:[\s\S]*?\nmount:/, '\nmount:')
    const found = check(bare, ARC)
    const line = lineOf(found, 'deflection')
    expect(line.says).toContain('of weight and inertia alone: the rig states no water and hull')
    expect(line.value).toBeLessThan(lineOf(check(DEMO_RIG, ARC), 'deflection').value)
    expect(lineOf(found, 'heel')).toBeUndefined()
    expect(found.unchecked).toContain(
      'No heel: the rig has no section hull, which says how the craft lies in the water',
    )
  })
})

describe('heel', () => {
  /** All the mass of an arm in the body of its first joint, 0.5 m aside of the axis: it swings to 0.5 m outboard and inboard of its park place. */
  const swinging = (kg: string): string => {
    const light = DEMO_RIG.replaceAll(
      /body: \{ mass: "[\d.]+ kg", centre: (\[.*?\]), inertia: \{.*?\} \}/g,
      'body: { mass: "1e-9 kg", centre: ["0 m", "0 m", "0 m"], inertia: { xx: "1e-6 kg cm2", yy: "1e-6 kg cm2", zz: "1e-6 kg cm2" } }',
    ).replaceAll('paddle: { mass: "0.5 kg"', 'paddle: { mass: "1e-9 kg"')
    return light.replaceAll(
      /(- name: swing[\s\S]*?body: \{ mass: )"1e-9 kg", centre: \["0 m", "0 m", "0 m"\]/g,
      (_, head) => `${head}"${kg}", centre: ["0 m", "0.5 m", "0 m"]`,
    )
  }
  const small = (rig: string): string =>
    change(
      change(rig, 'mass: "180 kg"', 'mass: "60 kg"'),
      'metacentric-height: "0.45 m"',
      'metacentric-height: "0.15 m"',
    )

  it('check values 6: 5 kg moved .5 m, 60 kg, GM .15 m heel by 15.5 deg', () => {
    const [both, dead] = check(small(swinging('5 kg')), STILL).lines.filter((line) => line.check === 'heel')
    const degrees = (line: Line | undefined) => ((line!.value * 180) / Math.PI).toFixed(1)
    expect(degrees(dead)).toBe('15.5')
    // Both arms go, each by 0.5 m: tan = 10 x 0.5 / (60 x 0.15).
    expect(degrees(both)).toBe(((Math.atan(5 / 9) * 180) / Math.PI).toFixed(1))
    for (const line of [both!, dead!]) {
      expect(line.level).toBe('warn')
      expect(line.says).toMatch(/more than 10 deg: the gunwale comes near the water/)
    }
  })

  it('little is no caution, but for what stands beside every heel; the limit can be set', () => {
    const found = check(DEMO_RIG, STILL)
    const heels = found.lines.filter((line) => line.check === 'heel')
    expect(heels.map(({ level }) => level)).toEqual(['pass', 'pass'])
    expect(found.cautions).toEqual([expect.stringMatching(/^Heel here is an aid .* no proof of stability/)])
    const strict = check(change(DEMO_RIG, 'most-heel: "10 deg"', 'most-heel: "0.5 deg"'), STILL)
    expect(strict.lines.filter(({ check, level }) => check === 'heel' && level === 'warn')).toHaveLength(2)
  })

  it('what is missing is said, with the section to add', () => {
    const none = check(FRAMES_RIG, STILL).unchecked
    expect(none.filter((says) => /^No (mount|heel):/.test(says))).toEqual([
      'No mount: the rig has no section mount, which says what the arms are fixed to and which vibrations there are',
      'No heel: the rig has no section hull, which says how the craft lies in the water',
    ])
    const flat = check(change(DEMO_RIG, /\n {2}metacentric-height: .*\n/, '\n'), STILL)
    expect(flat.unchecked).toContain('No heel: the section hull states no metacentric-height')
  })
})
