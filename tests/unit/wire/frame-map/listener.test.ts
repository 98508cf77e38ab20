/** What the frames of a map say, as transcripts through the decoder. Rig: tests/unit/files/small-frames-rig.yaml. */
import { readFileSync } from 'node:fs'
import { beforeEach, describe, expect, it } from 'vitest'
import { loadRig } from '../../../../src/files/load.js'
import { Decoder } from '../../../../src/wire/decoder.js'
import { type Frame, frame } from '../../../../src/wire/frame.js'
import type { WireObservation } from '../../../../src/wire/observation.js'
import { change } from '../../../setup/runs.js'
import { watchSchemas } from '../../files/watch-schemas.js'

const TEXT = readFileSync(new URL('../../files/small-frames-rig.yaml', import.meta.url), 'utf8')
const rigOf = (text: string) => loadRig(text, 'small-frames-rig.yaml', watchSchemas)
const DEG = Math.PI / 180

const of = (id: number, bytes: string): Frame =>
  frame(
    id,
    Uint8Array.from(bytes === '' ? [] : bytes.split(' '), (b) => Number.parseInt(b, 16)),
  )

let observations: WireObservation[]
let decoder: Decoder

const hear = (f: Frame, t = 0, bus = 0, sent = false): WireObservation[] => {
  observations.length = 0
  decoder.see(bus, f, t, sent)
  expect(observations[0]).toMatchObject({ kind: 'frame', id: f.id })
  return observations.slice(1)
}
const tell = (f: Frame, t = 0, bus = 0): WireObservation[] => hear(f, t, bus, true)

beforeEach(() => {
  observations = []
  decoder = new Decoder(rigOf(TEXT), (o) => observations.push(o))
})

// swing, node 1: 0.002 deg a step, sign 1, zero 7.2 deg. elbow, node 2: sign -1, zero 0.
// Feedback: position 24 bits big in bytes 0 to 2; byte 3: counter above, state below; byte 4 bit 0: slowing.
describe('asked for feedback', () => {
  it('out, in, out, in: a request is a SYNC, setpoints and feedback belong to it', () => {
    expect(tell(of(0x0c0, ''), 1)).toEqual([{ kind: 'sync', t: 1, bus: 0, index: 0 }])
    // 7.2 deg + 10 deg = 17.2 deg = 8600 steps = 002198h, highest byte first.
    expect(hear(of(0x181, '00 21 98 11 00'), 2)).toEqual([
      {
        kind: 'feedback',
        t: 2,
        joint: 0,
        index: 0,
        position: expect.closeTo(10 * DEG, 12),
        torque: Number.NaN,
      },
      { kind: 'state', t: 2, joint: 0, state: 'operation enabled', follows: true, word: 1 },
    ])
    // The same lowest byte first: 98 21 00, and 98h ^ 21h = B9h.
    expect(tell(of(0x141, '98 21 00 b9'), 3)).toEqual([
      { kind: 'setpoint', t: 3, joint: 0, index: 0, position: expect.closeTo(10 * DEG, 12) },
    ])
    // Sign -1: +10 deg is -5000 steps = FFEC78h; lowest first, 78h ^ ECh ^ FFh = 6Bh.
    expect(tell(of(0x142, '78 ec ff 6b'), 4)).toEqual([
      { kind: 'setpoint', t: 4, joint: 1, index: 0, position: expect.closeTo(10 * DEG, 12) },
    ])
    expect(tell(of(0x0c0, ''), 5)).toEqual([{ kind: 'sync', t: 5, bus: 0, index: 1 }])
    expect(hear(of(0x182, 'ff ec 78 21 00'), 6).map((o) => [o.kind, 'index' in o && o.index])).toEqual([
      ['feedback', 1],
      ['state', false],
    ])
    // The state is told when it changes.
    expect(hear(of(0x181, '00 21 98 21 00'), 7).map((o) => o.kind)).toEqual(['feedback'])
  })

  it('answers that are read late belong to the requests that they answer, by their counter', () => {
    const answer = (count: number) => {
      const f = hear(of(0x181, `00 21 98 ${count.toString(16)}1 00`))
      return f.map((o) => ('index' in o ? o.index : o.kind))
    }
    tell(of(0x0c0, ''))
    expect(answer(1)).toEqual([0, 'state'])
    tell(of(0x0c0, ''))
    tell(of(0x0c0, ''))
    expect(answer(2)).toEqual([1])
    expect(answer(3)).toEqual([2])
  })

  it.each([
    ['off', '10', 'switch on disabled', false],
    ['enabled', '11', 'operation enabled', true],
    ['in fault', '17', 'fault', false],
    ['a number that the map does not name', '12', 'unknown', false],
  ])('state %s', (_, byte, state, follows) => {
    const word = Number.parseInt(byte, 16) & 15
    expect(hear(of(0x181, `00 00 00 ${byte} 00`))[1]).toMatchObject({ kind: 'state', state, follows, word })
  })

  it.each([
    ['enabled', '11', 'quick stop active'],
    ['no torque', '10', 'switch on disabled'],
    ['in fault', '17', 'fault'],
  ])('a confirmed stop of a drive that says %s', (_, byte, state) => {
    expect(hear(of(0x181, `00 00 00 ${byte} 01`))[1]).toMatchObject({ kind: 'state', state, follows: false })
  })

  it.each([
    ['enable to one joint', of(0x202, '01'), { joint: 1, command: 'enable operation' }],
    ['reset to one joint, told apart by its constant', of(0x201, '02'), { joint: 0, command: 'fault reset' }],
    ['stop to all', of(0x010, ''), { joint: -1, command: 'quick stop' }],
    ['disable to all', of(0x011, ''), { joint: -1, command: 'disable voltage' }],
  ])('%s', (_, f, expected) => {
    expect(tell(f, 9)).toEqual([expect.objectContaining({ kind: 'control', t: 9, bus: 0, ...expected })])
  })
})

describe('nothing is believed of', () => {
  const strange = (id: number) => [{ kind: 'strange', t: 0, bus: 0, id }]

  it.each([
    ['feedback of another length', of(0x181, '00 21 98 11')],
    ['an identifier that the map does not have', of(0x1ff, '00')],
    ['SYNC of CANopen', of(0x080, '')],
    ['a remote frame', { ...of(0x181, '00 21 98 11 00'), remote: true }],
    ['an extended frame', { ...of(0x181, '00 21 98 11 00'), extended: true }],
  ])('%s', (_, f) => {
    expect(hear(f)).toEqual(strange(f.id))
  })

  it('a setpoint of ours whose checksum is wrong, or a command without its constant', () => {
    expect(tell(of(0x141, '98 21 00 b8'))).toEqual(strange(0x141))
    expect(tell(of(0x201, '03'))).toEqual(strange(0x201))
  })

  it('feedback whose counter stands still', () => {
    expect(hear(of(0x181, '00 21 98 11 00'))).toHaveLength(2)
    expect(hear(of(0x181, '00 21 98 11 00'))).toEqual(strange(0x181))
    expect(hear(of(0x181, '00 21 98 21 00'))).toHaveLength(1)
    // Each joint counts for itself.
    expect(hear(of(0x182, '00 21 98 21 00'))).toHaveLength(2)
  })

  it.each([0x0c0, 0x141, 0x142, 0x201, 0x010, 0x011])('%x from somebody else, whatever it says', (id) => {
    expect(hear(of(id, '01'))).toEqual([{ kind: 'foreign', t: 0, bus: 0, id }])
  })
})

describe('feedback that comes by itself', () => {
  const text = change(change(TEXT, / {4}request.*\n/, ''), 'bytes: 5\n', 'bytes: 5\n      every: "5 ms"\n')

  it('belongs to the cycle that the setpoint of the first joint began', () => {
    decoder = new Decoder(rigOf(text), (o) => observations.push(o))
    const index = (o: WireObservation[]) => o.map((x) => [x.kind, 'index' in x ? x.index : null])
    expect(index(hear(of(0x181, '00 21 98 11 00'), 1e6))).toEqual([
      ['feedback', -1],
      ['state', null],
    ])
    expect(index(tell(of(0x141, '98 21 00 b9'), 5e6))).toEqual([
      ['sync', 0],
      ['setpoint', 0],
    ])
    expect(index(tell(of(0x142, '78 ec ff 6b'), 5.1e6))).toEqual([['setpoint', 0]])
    expect(index(hear(of(0x181, '00 21 98 21 00'), 6e6))).toEqual([['feedback', 0]])
    expect(index(tell(of(0x141, '98 21 00 b9'), 10e6))).toEqual([
      ['sync', 1],
      ['setpoint', 1],
    ])
    expect(index(hear(of(0x181, '00 21 98 31 00'), 11e6))).toEqual([['feedback', 1]])
  })
})
