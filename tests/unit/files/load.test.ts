import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { DrystrokeError } from '../../../src/errors.js'
import { loadRig, loadScenario, readRigFile, readScenarioFile } from '../../../src/files/load.js'
import { watchSchemas } from './watch-schemas.js'

const smallText = readFileSync(new URL('small-rig.yaml', import.meta.url), 'utf8')
const small = loadRig(smallText, 'small-rig.yaml', watchSchemas)

function refusalOf(load: () => unknown): DrystrokeError {
  try {
    load()
  } catch (error) {
    if (error instanceof DrystrokeError) return error
    throw error
  }
  throw new Error('nothing was refused')
}

describe('a rig', () => {
  test('has SI numbers and indices for names', () => {
    const [swing, elbow] = small.joints
    expect(small.joints.map((joint) => joint.name)).toEqual(['port.swing', 'port.elbow'])
    expect(small.arms[0]!.joints).toEqual([0, 1])
    expect(swing!.limits.upper).toBeCloseTo((150 / 180) * Math.PI, 12)
    expect(swing!.limits.acceleration).toBeCloseTo((1500 / 180) * Math.PI, 12)
    expect(swing!.wire).toEqual({
      protocol: 'cia402',
      bus: 0,
      node: 11,
      countsPerRadian: 131072 / (2 * Math.PI),
      sign: 1,
      zero: 1200,
      ratedTorque: 20,
    })
    expect(elbow!.wire).toMatchObject({ bus: 1, node: 11, sign: -1 })
    expect(small.buses.map((bus) => bus.controlword)).toEqual([null, 0x181])
    expect(small.arms[0]!.base.turn[2]).toBeCloseTo(Math.PI / 2, 12)
    expect(small.simulation.joints.map((joint) => joint.start)).toEqual([Math.PI / 36, Math.PI / 2])
  })

  test('has unit directions, and a blade whose face lies along its shaft', () => {
    const { normal, shaft } = small.arms[0]!.tool
    expect(small.joints[1]!.axis).toEqual([0, 1, 0])
    expect(Math.hypot(...normal)).toBeCloseTo(1, 14)
    expect(Math.hypot(...shaft)).toBeCloseTo(1, 14)
    // 1.7e-4 before, because the file says [0, 3, 0] and [0, 0.001, 1].
    expect(normal[0] * shaft[0] + normal[1] * shaft[1] + normal[2] * shaft[2]).toBeCloseTo(0, 14)
  })

  test('takes defaults for all that may be left out', () => {
    expect(small.control).toEqual({ rate: 200, period: 0.005 })
    expect(small.buses[0]).toEqual({
      index: 0,
      name: 'can-a',
      address: { kind: 'mock' },
      serialRate: 115_200,
      bitrate: 1e6,
      controlword: null,
      reports: null,
      queue: 32,
      owner: 'harness',
    })
    expect(small.stroke).toMatchObject({ sides: 'free', length: 0.5, dwell: 1 })
    expect(small.driver).toMatchObject({ slip: 0, link: null })
    expect(small.link).toMatchObject({ heartbeatTimeout: 0.1, staleAfter: 0.02 })
    expect(small.stop).toMatchObject({ category: 1, brakes: true, sagWindow: 2 })
    expect(small.stop.still.hold).toBe(0.1)
    expect(small.watch.silence.age).toBe(0.02)
    expect(small.simulation.servo.frequency).toBe(12)
  })

  test('keeps no key of the file that the rest does not know', () => {
    const hyphened = JSON.stringify(small).match(/"[a-z]+(-[a-z]+)+":/g)
    expect(hyphened).toBeNull()
  })

  test('may write a value in any unit of its quantity', () => {
    const text = smallText.replace('track: "2 m"', 'track: "200cm"').replace('"150 deg"]', '"2.5 rad"]')
    const rig = loadRig(text, 'rig.yaml', watchSchemas)
    expect(rig.craft.track).toBe(2)
    expect(rig.joints[0]!.limits.upper).toBe(2.5)
  })

  test('may use an anchor again', () => {
    const text = smallText
      .replace('origin: { at', 'origin: &here { at')
      .replace(/origin: \{ at: \["0 m", "0 m", "0.35 m"\].*/, 'origin: *here')
    expect(loadRig(text, 'rig.yaml', watchSchemas).joints[1]!.origin.at).toEqual([0, 0, 0.12])
  })

  test('may have four or seven joints an arm', () => {
    for (const count of [4, 7]) {
      const rig = loadRig(rigOf(count), `${count}.yaml`, watchSchemas)
      expect(rig.arms[0]!.joints).toHaveLength(count)
      expect(rig.joints.at(-1)!.name).toBe(`port.j${count}`)
    }
  })

  test('says a bound in the unit of the file, and takes the bound itself', () => {
    const at = (length: string) => () =>
      loadRig(smallText.replace('length: "4 m"', `length: "${length}"`), 'rig.yaml', watchSchemas)
    expect(at('30 m')().craft.length).toBe(30)
    expect(at('3000 cm')().craft.length).toBe(30)
    expect(refusalOf(at('30.001 m')).message).toContain('expected at most "30 m"')
    expect(at('1000 mm')().craft.length).toBe(1)
    expect(refusalOf(at('0.999 m')).message).toContain('expected at least "1 m"')
  })
})

/** A rig with one arm of `count` joints. */
function rigOf(count: number): string {
  const joint = smallText.match(/ {6}- name: swing[\s\S]*?(?= {6}- name: elbow)/)![0]
  const numbers = Array.from({ length: count }, (_, i) => i + 1)
  const joints = numbers.map((i) =>
    joint.replace('name: swing', `name: j${i}`).replace('node: 11', `node: ${i + 20}`),
  )
  const simulated = numbers.map(
    (i) => `    port.j${i}: { counts-per-turn: 4096, sign: 1, zero: "0 counts", start: "0 deg" }\n`,
  )
  return smallText
    .replace(/ {6}- name: swing[\s\S]*?(?= {4}tool)/, joints.join(''))
    .replace(/ {4}port\.swing:[\s\S]*$/, simulated.join(''))
}

describe('a scenario', () => {
  const scenario = (lines: string) =>
    loadScenario(`name: ahead\nabout: For tests.\nduration: "10 s"\n${lines}`, 'ahead.yaml', small)

  test('has SI numbers and indices, and its faults in order of time', () => {
    const { faults } = scenario(
      `faults:
  - { at: "6 s", fault: offset, angle: "3 deg", joint: port.elbow }
  - { at: "4 s", lasts: "20 ms", fault: dropped, share: "50 %", joint: port.swing }
expect: { outcome: finish, parked: false }`,
    )
    expect(faults).toEqual([
      { at: 4, lasts: 0.02, fault: 'dropped', place: 0, other: -1, amount: 0.5 },
      {
        at: 6,
        lasts: Number.POSITIVE_INFINITY,
        fault: 'offset',
        place: 1,
        other: -1,
        amount: 3 * (Math.PI / 180),
      },
    ])
  })

  test('counts the time to stop from its first fault or operator stop, unless it says otherwise', () => {
    const rest = 'expect: { outcome: stop, by: silence, within: "20 ms", still: "1 s" }'
    const operator = 'operator:\n  - { at: "3 s", do: start }\n  - { at: "5 s", do: stop }\n'
    const fault = 'faults: [{ at: "4 s", fault: silent, joint: port.elbow }]\n'
    const countsFrom = (lines: string) => {
      const { expect: expectation } = scenario(lines)
      return expectation.outcome === 'stop' ? expectation.after : undefined
    }
    expect(countsFrom(operator + rest)).toBe(5)
    expect(countsFrom(operator + fault + rest)).toBe(4)
    expect(countsFrom(operator + fault + rest.replace('within', 'after: "6 s", within'))).toBe(6)
  })

  test('may release, reset and start whenever something can have stopped the run, in any order', () => {
    const actions =
      'operator:\n  - { at: "4 s", do: start }\n  - { at: "5 s", do: reset }\n  - { at: "6 s", do: release }\n'
    const finish = 'expect: { outcome: finish, parked: true }'
    const watched = 'expect: { outcome: stop, by: gate, after: "1 s", within: "20 ms", still: "1 s" }'
    const fault = (at: number) => `faults: [{ at: "${at} s", fault: silent, joint: port.elbow }]\n`
    expect(scenario(actions + watched).operator).toHaveLength(3)
    expect(scenario(fault(4) + actions + finish).operator).toHaveLength(3)
    const error = refusalOf(() => scenario(fault(5.5) + actions + finish))
    expect(error.message.match(/expected a stop before it/g)).toHaveLength(2)
  })

  test("states a speed as a share of the rig's greatest, forward or astern", () => {
    const fast = loadRig(`${smallText}\nstroke: { fastest: "0.8 m/s" }\n`, 'fast.yaml', watchSchemas)
    const { commands } = loadScenario(
      `name: shares
about: For tests.
duration: "10 s"
commands:
  - { at: "1 s", surge: "66 %", yaw: "0 deg/s" }
  - { at: "2 s", surge: "-33%", yaw: "0 deg/s" }
  - { at: "3 s", surge: "0.2 m/s", yaw: "0 deg/s" }
expect: { outcome: finish, parked: false }
`,
      'shares.yaml',
      fast,
    )
    expect(commands.map((c) => c.surge)).toEqual([0.66 * 0.8, -0.33 * 0.8, 0.2])
  })

  test('may not state a share where the rig states no greatest speed', () => {
    const share =
      'commands: [{ at: "1 s", surge: "66 %", yaw: "0 deg/s" }]\nexpect: { outcome: finish, parked: false }'
    expect(() => scenario(share)).toThrow(
      /4:\d+: commands\[0\]\.surge: found a share, "66 %".*stroke\.fastest/,
    )
  })

  test.each([
    ['"120 %"', /found "120 %"; expected at most "100 %"/],
    ['"9 m/s"', /found "9 m\/s"; expected at most "3 m\/s"/],
    ['"66 knots"', /expected a speed with its unit.*or a share of the rig's stroke\.fastest, such as "66 %"/],
    ['0.3', /found the bare number 0\.3; expected a speed with its unit/],
  ])('refuses the speed %s', (surge, says) => {
    expect(() =>
      scenario(
        `commands: [{ at: "1 s", surge: ${surge}, yaw: "0 deg/s" }]\nexpect: { outcome: finish, parked: false }`,
      ),
    ).toThrow(says)
  })

  test('forbids motion after a stop unless it says otherwise', () => {
    const stop =
      'operator: [{ at: "3 s", do: stop }]\nexpect: { outcome: stop, by: operator, within: "20 ms", still: "1 s" }'
    expect(scenario(stop).expect).toEqual({
      outcome: 'stop',
      by: 'operator',
      category: null,
      joint: null,
      bus: null,
      after: 3,
      within: 0.02,
      still: 1,
      noMotion: true,
    })
  })

  test.each(['operator', 'gate', 'drive', 'silence', 'tracking'])('may expect a stop by %s', (by) => {
    const text = `expect: { outcome: stop, by: ${by}, after: "1 s", within: "20 ms", still: "1 s" }`
    expect(scenario(text).expect).toMatchObject({ by })
  })
})

describe('files that are no rigs at all', () => {
  const folder = mkdtempSync(join(tmpdir(), 'drystroke-files-'))
  afterAll(() => rmSync(folder, { recursive: true }))
  const refusal = (name: string, content: string | Uint8Array) => {
    const path = join(folder, name)
    writeFileSync(path, content)
    const error = refusalOf(() => readRigFile(path, watchSchemas))
    expect(error.exitStatus).toBe(2)
    expect(error.message).toContain(path)
    return error
  }

  test.each([
    ['empty', '', 'an empty file'],
    ['blank', ' \n\n', 'an empty file'],
    ['comment', '# nothing here\n', 'found nothing'],
    ['huge', `name: ${'x'.repeat(1_000_001)}`, 'at most 1 MB'],
    ['zeros', 'name: a\0b', 'binary data'],
    ['deep', '['.repeat(20_000), 'nested too deeply'],
    ['deep-blocks', '- '.repeat(20_000), 'nested too deeply'],
    ['closed-deep', `name: ${'['.repeat(5_000)}${']'.repeat(5_000)}`, ''],
  ])('%s', (name, content, says) => {
    const error = refusal(`${name}.yaml`, content)
    expect(error.code).toBe('file-invalid')
    expect(error.message).toContain(says)
  })

  test('bytes that are no text', () => {
    expect(refusal('bytes.yaml', Uint8Array.of(0x6e, 0xff, 0xfe, 0x80)).message).toContain('not UTF-8')
  })

  test('many aliases', () => {
    const text = `a: &a 1\nb: [${Array.from({ length: 101 }, () => '*a').join(', ')}]\n`
    expect(refusal('aliases.yaml', text).message).toContain('101 aliases')
  })

  test('a file of thousands of mistakes shows two hundred of them and counts the rest', () => {
    const text = Array.from({ length: 5000 }, (_, i) => `k${i}: 1\n`).join('')
    const lines = refusal('thousands.yaml', text).message.split('\n')
    expect(lines).toHaveLength(201)
    expect(lines.at(-1)).toMatch(/and 48\d\d more mistakes$/)
  })

  test('no file, with the nearest that there is', () => {
    writeFileSync(join(folder, 'reservoir.yaml'), smallText)
    const error = refusalOf(() => readRigFile(join(folder, 'reservior.yaml'), watchSchemas))
    expect(error.code).toBe('file-access')
    expect(error.message).toContain('did you mean "reservoir.yaml"?')
    expect(refusalOf(() => readScenarioFile(folder, small)).code).toBe('file-access')
  })

  test('a byte order mark and foreign line ends are no mistakes', () => {
    const path = join(folder, 'marked.yaml')
    writeFileSync(path, `\uFEFF${smallText.replaceAll('\n', '\r\n')}`)
    expect(readRigFile(path, watchSchemas).name).toBe('small')
  })
})
