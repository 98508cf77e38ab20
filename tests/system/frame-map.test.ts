/**
 * Arms that speak frames of their own, through the whole pipeline: every demo scenario passes, what is broken fails as it does
 * with CiA 402, a stop is the map's stop frames and nothing of CANopen, and a run repeats to the byte.
 */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Finding } from '../../src/files/event.js'
import { openRecording } from '../../src/record/read.js'
import { writeReports } from '../../src/report/write.js'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import {
  change,
  eventsOf,
  FRAMES_RIG,
  play,
  played,
  SCENARIOS,
  scenarioText,
  temporaryFolder,
} from '../setup/runs.js'

const PERIOD = 5e6
const DEG = Math.PI / 180
/** Port: heron, asked for feedback. Starboard: grebe, whose feedback comes by itself. */
const HERON_FEEDBACK = (node: number): number => 0x1c0 + node
const GREBE_FEEDBACK = (node: number): number => 0x007 + 16 * node

interface Seen {
  readonly bus: number
  readonly id: number
  readonly data: Uint8Array
  readonly t: number
  readonly sent: boolean
}

function framesOf(folder: string): Seen[] {
  const seen: Seen[] = []
  openRecording(folder).replay({
    frame: (bus, { id, data }, t, sent) => seen.push({ bus, id, data, t, sent }),
    event: () => {},
  })
  return seen
}

function named(findings: readonly Finding[], place: string, watch: string): Finding {
  const found = findings.find((f) => f.place === place && f.watch === watch && f.severity === 'failure')
  expect(found, `a failure of ${watch} that names ${place}`).toBeDefined()
  return found!
}

describe('every demo scenario', () => {
  it.each(SCENARIOS)('%s passes', async (name) => {
    const { verdict } = await played(FRAMES_RIG, scenarioText(name))
    expect({ outcome: verdict.outcome, unmet: verdict.expectations.filter((e) => !e.met) }).toEqual({
      outcome: 'pass',
      unmet: [],
    })
    // What cannot be checked is said, once for each bus and stage; nothing else is worth a word but a bus in trouble.
    const warnings = verdict.findings.filter((f) => f.severity === 'warning')
    const unchecked = warnings.filter((f) => f.quantity === 'not checked')
    expect(unchecked.map((f) => f.place)).toEqual(['port-can', 'starboard-can', 'port-can', 'starboard-can'])
    if (!name.startsWith('bus-')) expect(warnings).toEqual(unchecked)
  })
})

describe.each(['slow-ahead', 'pivot-to-port', 'reversal'])('%s, broken', (name) => {
  const out = temporaryFolder()

  it.each(['port', 'starboard'])('a speed limit of the %s arm lowered below what is asked', async (arm) => {
    const place = new RegExp(
      `(- name: ${arm}\\n {4}side:[\\s\\S]*?- name: elbow\\n[\\s\\S]*?[ {]speed: )"[^"]+"`,
    )
    const { verdict } = await play(out, change(FRAMES_RIG, place, '$1"6 deg/s"'), scenarioText(name))
    expect(verdict.outcome).toBe('fail')
    const finding = named(verdict.findings, `${arm}.elbow`, 'gate')
    expect(finding.quantity).toBe('setpoint speed')
    expect(finding.limit).toBeCloseTo(6 * DEG, 9)
    expect(finding.value).toBeGreaterThan(finding.limit)
  })

  it.each(['port.swing', 'starboard.swing'])('a sign flipped in the truth of %s', async (joint) => {
    const truth = new RegExp(`(${joint.replace('.', '\\.')}: \\{ counts[^}]*sign: )(-?)1`)
    const rig = change(FRAMES_RIG, truth, (_, head, minus) => `${head}${minus ? '' : '-'}1`)
    const { verdict } = await play(out, rig, scenarioText(name))
    expect(verdict.outcome).toBe('fail')
    expect(named(verdict.findings, joint, 'sense').value).toBeGreaterThan(2 * DEG)
  })

  it.each([
    ['port.shoulder', 0, HERON_FEEDBACK(2)],
    ['starboard.shoulder', 1, GREBE_FEEDBACK(2)],
  ] as const)('the feedback of %s cut', async (joint, bus, id) => {
    const cut = `faults:\n  - { at: "2 s", fault: silent, joint: ${joint} }\nexpect:`
    const { verdict, folder } = await play(out, FRAMES_RIG, change(scenarioText(name), /^expect:/m, cut))
    expect(verdict).toMatchObject({ outcome: 'fail', stop: { source: 'silence', place: joint } })
    const finding = named(verdict.findings, joint, 'silence')
    const last = framesOf(folder)
      .filter((f) => f.bus === bus && f.id === id)
      .at(-1)!
    const fault = eventsOf(folder).find((e) => e.kind === 'fault')!
    expect(Math.abs(last.t - fault.t)).toBeLessThanOrEqual(2 * PERIOD)
    // Feedback may be three periods old (README).
    expect(finding.t).toBeGreaterThanOrEqual(last.t + 3 * PERIOD)
    expect(finding.t - (last.t + 3 * PERIOD)).toBeLessThanOrEqual(2 * PERIOD)
  })
})

describe('a wrong map', () => {
  const out = temporaryFolder()

  it.each([
    [
      'scale of a position',
      /(- \{ is: position, byte: 0, bit: 4, length: 28, signed: true, scale: )"0.002 deg"/,
      '$1"0.0025 deg"',
      'port',
    ],
    [
      'offset of a position',
      /(byte: 2, order: big, length: 20, scale: "0.0025 deg", offset: )"-1000 deg"/,
      '$1"-1004 deg"',
      'starboard',
    ],
  ] as const)('%s: the joint is not where its feedback says', async (_, from, to, arm) => {
    // The truth of the simulated arms stays as it was.
    const { verdict } = await play(out, change(FRAMES_RIG, from, to), scenarioText('slow-ahead'))
    expect(verdict.outcome).toBe('fail')
    expect(verdict.findings.some((f) => f.place.startsWith(`${arm}.`) && f.severity === 'failure')).toBe(true)
  })
})

/** One line for each thing of interest: events of the stop, and what we send on a bus besides requests. */
function transcript(folder: string): string[] {
  const lines: string[] = []
  const say = (line: string): void => {
    if (lines.at(-1) !== line) lines.push(line)
  }
  openRecording(folder).replay({
    frame: (bus, { id, data }, _, sent) => {
      if (!sent || id === 0x0c0) return
      const setpoint = bus === 0 ? id > 0x140 && id < 0x150 : (id & 0xf) === 3
      say(
        setpoint
          ? 'setpoints'
          : `bus ${bus}: ${id.toString(16).padStart(3, '0')} ${[...data].join(' ')}`.trim(),
      )
    },
    event: (e) => {
      if (e.kind === 'stop') say(`stop by ${e.source}`)
      else if (e.kind === 'stage') say(`stage ${e.stage}`)
      else if (e.kind === 'release' || e.kind === 'reset') say(e.kind)
      else if (e.kind === 'refused') say(`refused: ${e.what}`)
      else if (e.kind === 'end') say(`end ${e.reason}`)
    },
  })
  return lines
}

const NODES = [1, 2, 3, 4, 5, 6]
const grebe = (command: number, data = ''): string[] =>
  NODES.map((node) => `bus 1: ${(16 * node + command).toString(16).padStart(3, '0')} ${data}`.trim())

describe('on the wire', () => {
  const out = temporaryFolder()

  it('category 1: the stop frames of every arm at once, disable at standstill; release and reset move nothing', async () => {
    const { folder, verdict } = await played(FRAMES_RIG, scenarioText('operator-stop'))
    expect(verdict.outcome).toBe('pass')
    const lines = transcript(folder)
    expect(lines.slice(lines.indexOf('stage play'))).toEqual([
      'stage play',
      'setpoints',
      'bus 0: 010 229',
      ...grebe(1),
      'stop by operator',
      'stage stopping',
      'bus 0: 011',
      ...grebe(2, '0'),
      'stage stopped',
      'release',
      'reset',
      'refused: command',
      'end completed',
    ])
  })

  it('category 0: disable at once, and no stop frame', async () => {
    const rig = change(FRAMES_RIG, /(stop:\n {2}category: )1/, '$10')
    const { folder, verdict } = await play(out, rig, scenarioText('operator-stop'))
    expect(verdict.stop).toMatchObject({ category: 0, source: 'operator' })
    const lines = transcript(folder)
    const played = lines.slice(lines.indexOf('stage play'))
    expect(played.slice(0, 10)).toEqual([
      'stage play',
      'setpoints',
      'bus 0: 011',
      ...grebe(2, '0'),
      'stop by operator',
    ])
    expect(played).not.toContain('bus 0: 010 229')
    expect(played.filter((l) => l === 'setpoints')).toHaveLength(1)
  })

  it('enables, plays, and disables at the end; nothing of CANopen leaves', async () => {
    const { folder } = await played(FRAMES_RIG, scenarioText('slow-ahead'))
    const lines = transcript(folder)
    expect(lines).toEqual([
      'stage setup',
      'stage seed',
      'setpoints',
      'stage enable',
      ...NODES.map((node) => `bus 0: ${(0x200 + node).toString(16)} 17 0`),
      ...grebe(2, '1'),
      'setpoints',
      'stage approach',
      'setpoints',
      'stage play',
      'setpoints',
      'stage park',
      'setpoints',
      'stage disable',
      'bus 0: 011',
      ...grebe(2, '0'),
      'setpoints',
      'stage rest',
      'end completed',
    ])
    const ours = new Set(
      framesOf(folder)
        .filter((f) => f.sent)
        .map((f) => `${f.bus}: ${f.id}`),
    )
    for (const bus of [0, 1]) {
      // NMT, SYNC, SDO request to node 1, our heartbeat (CiA 301, predefined connection set).
      for (const id of [0x000, 0x080, 0x601, 0x77f]) expect(ours).not.toContain(`${bus}: ${id}`)
    }
  })
})

describe('repeating', () => {
  const out = temporaryFolder()
  const bytes = (folder: string, file: string): string => readFileSync(join(folder, file)).toString('base64')

  it.each(['slow-ahead', 'joint-silent'])(
    '%s: same seed, same bytes; judged later, the same verdict',
    async (name) => {
      const first = await play(out, FRAMES_RIG, scenarioText(name), 7)
      const second = await play(out, FRAMES_RIG, scenarioText(name), 7)
      const other = await play(out, FRAMES_RIG, scenarioText(name), 8)
      for (const file of ['frames.pcapng', 'events.jsonl', 'rig.yaml', 'verdict.json', 'junit.xml'])
        expect(bytes(second.folder, file), file).toBe(bytes(first.folder, file))
      expect(bytes(other.folder, 'frames.pcapng')).not.toBe(bytes(first.folder, 'frames.pcapng'))
      const before = bytes(first.folder, 'verdict.json')
      writeReports(first.folder, judgeRecording(first.folder))
      expect(bytes(first.folder, 'verdict.json')).toBe(before)
    },
  )
})
