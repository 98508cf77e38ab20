import { describe, expect, test } from 'vitest'
import { type Speech, speechOf } from '../../../../src/driver/link/speech.js'
import type { ProcessDriverSettings, WebSocketDriverSettings } from '../../../../src/files/driver.js'

const about = { rig: 'small', joints: ['port.swing', 'port.elbow'], period: 0.005, park: [0.1, 1.5] }
const every = { ownsBus: false, every: null, handshake: 10, answer: 0.05, rest: null, parked: 0.01 }
const process: ProcessDriverSettings = { kind: 'process', ...every, run: ['own'] }
const socket: WebSocketDriverSettings = {
  kind: 'websocket',
  ...every,
  address: 'ws://127.0.0.1:1',
  afterConnecting: [{ of: '$joints' }, '$rig'],
  command: {
    helm: { ahead: '$surge', turn: ['$yaw', 0.5, null, true, '$$5'] },
    at: '$time',
    number: '$count',
  },
  beforeStarting: [{ from: '$park' }],
  beforeClosing: [{ bye: '$period' }],
  ready: { at: '/state', is: 'standing by', park: null },
  setpoints: '/arms/q',
  counter: '/arms/of',
}

const read = (speech: Speech, message: unknown) =>
  speech.read(typeof message === 'string' ? message : JSON.stringify(message))

describe('protocol 1', () => {
  const speech = speechOf(process, about)

  test('out', () => {
    expect(speech.hello.map((m) => JSON.parse(m))).toEqual([
      {
        hello: 1,
        rig: 'small',
        joints: ['port.swing', 'port.elbow'],
        period: 0.005,
        every: 0.005,
        'owns-bus': false,
        park: [0.1, 1.5],
        units: { t: 's', surge: 'm/s', yaw: 'rad/s', setpoints: 'rad', park: 'rad' },
      },
    ])
    expect(speech.begin).toEqual(['{"begin":true}'])
    expect(speech.command(7, 0.035, { surge: -0.25, yaw: 1e-7 })).toBe(
      '{"n":7,"t":0.035,"surge":-0.25,"yaw":1e-7}',
    )
    expect(speech.command(8, 0.04, null)).toBe('{"n":8,"t":0.04}')
    expect(speech.bye).toEqual(['{"bye":true}'])
  })

  test('in', () => {
    expect(read(speech, { ready: 1 })).toEqual({ kind: 'ready', park: null })
    expect(read(speech, { ready: 1, park: [0, -1], name: 'own' })).toEqual({ kind: 'ready', park: [0, -1] })
    expect(read(speech, { n: 7, setpoints: [0.5, -2e-3] })).toEqual({
      kind: 'answer',
      count: 7,
      setpoints: [0.5, -0.002],
    })
    expect(read(speech, { n: 7, setpoints: { 'port.elbow': 2, 'port.swing': 1 } })).toMatchObject({
      setpoints: [1, 2],
    })
  })

  test.each([
    ['hello there', 'words for people belong on standard error'],
    ['', 'is no JSON object'],
    ['[1]', 'is no JSON object'],
    ['null', 'is no JSON object'],
    ['{"n":1,"setpoints":[NaN,0]}', 'NaN and Infinity are no JSON'],
    ['{"n":1,"setpoints":[-Infinity,0]}', 'NaN and Infinity are no JSON'],
    ['{"n":1,"setpoints":[null,0]}', 'setpoints of port.swing', 'port.swing'],
    ['{"n":1,"setpoints":[0,1e999]}', 'setpoints of port.elbow', 'port.elbow'],
    ['{"n":1,"setpoints":[0,"1"]}', 'it is "1"', 'port.elbow'],
    ['{"n":1,"setpoints":[0]}', 'must be 2 numbers, one for each joint; 1 came'],
    ['{"n":1,"setpoints":[0,1,2]}', '3 came'],
    ['{"n":1,"setpoints":{"port.swing":1}}', 'setpoints of port.elbow', 'port.elbow'],
    ['{"n":1,"setpoints":5}', 'must be a list of 2 numbers'],
    ['{"n":1}', 'must be a list of 2 numbers'],
    ['{"setpoints":[0,1]}', 'has no count n'],
    ['{"n":1.5,"setpoints":[0,1]}', 'has no count n'],
    ['{"n":-1,"setpoints":[0,1]}', 'has no count n'],
    ['{"ready":2}', 'it speaks protocol 2; this is protocol 1'],
    ['{"ready":1,"park":[0]}', 'park must be 2 numbers'],
  ])('%s is rubbish', (text, says, place = '') => {
    expect(speech.read(text)).toEqual({ kind: 'rubbish', says: expect.stringContaining(says), place })
  })

  test('who owns the bus hears commands, nothing where there are none, and may say which it has heard', () => {
    const own = speechOf({ ...process, ownsBus: true, every: 0.02 }, about)
    expect(JSON.parse(own.hello[0]!)).toMatchObject({ 'owns-bus': true, every: 0.02 })
    expect(own.command(1, 0, { surge: 1, yaw: 0 })).not.toBeNull()
    expect(own.command(1, 0, null)).toBeNull()
    expect(read(own, { n: 4 })).toEqual({ kind: 'answer', count: 4, setpoints: null })
  })
})

test('who owns the bus is told what to do, with a command or without one', () => {
  const own = speechOf({ ...process, ownsBus: true }, about)
  expect(own.orders).toBe(true)
  expect(own.command(3, 0.5, { surge: 0.2, yaw: 0 }, 'follow')).toBe(
    '{"n":3,"t":0.5,"do":"follow","surge":0.2,"yaw":0}',
  )
  expect(own.command(4, 0.5, null, 'follow')).toBe('{"n":4,"t":0.5,"do":"follow"}')
})

test('what may be lost on the way is said again until it is answered', () => {
  const udp = { kind: 'udp', ...every, host: '127.0.0.1', port: 1, ownPort: null } as const
  const serial = { kind: 'serial', ...every, device: '/dev/ttyX', rate: 9600 } as const
  expect([udp, serial, process, socket].map((link) => speechOf(link, about).repeats)).toEqual([
    ...[true, true],
    ...[false, false],
  ])
})

describe("a WebSocket's own messages", () => {
  const speech = speechOf(socket, about)

  test('out: words become what they stand for, a doubled dollar sign one', () => {
    expect(speech.hello).toEqual(['{"of":["port.swing","port.elbow"]}', '"small"'])
    expect(JSON.parse(speech.command(3, 0.5, { surge: 0.4, yaw: -0.1 })!)).toEqual({
      helm: { ahead: 0.4, turn: [-0.1, 0.5, null, true, '$5'] },
      at: 0.5,
      number: 3,
    })
    expect(speech.command(4, 0.5, null)).toBeNull()
    expect(speech.bye).toEqual(['{"bye":0.005}'])
    expect(speech.begin).toEqual(['{"from":[0.1,1.5]}'])
  })

  test('orders reach it where a template has a place for them', () => {
    expect(speech.orders).toBe(false)
    const ordered = speechOf({ ...socket, command: { task: '$order', ahead: '$surge' } }, about)
    expect(ordered.orders).toBe(true)
    expect(ordered.command(1, 0, { surge: 0.1, yaw: 0 }, 'stop')).toBe('{"task":"stop","ahead":0.1}')
  })

  test('in: by pointers; other messages are none of ours', () => {
    expect(read(speech, { state: 'standing by' })).toEqual({ kind: 'ready', park: null })
    expect(read(speech, { state: 'warming up' })).toEqual({ kind: 'other' })
    expect(read(speech, { arms: { q: [1, 2], of: 3 } })).toEqual({
      kind: 'answer',
      count: 3,
      setpoints: [1, 2],
    })
    expect(read(speech, { arms: { of: 3 } })).toEqual({ kind: 'other' })
    expect(read(speech, { arms: { q: [1, 2] } })).toMatchObject({
      kind: 'rubbish',
      says: expect.stringContaining('/arms/of'),
    })
    expect(read(speech, { arms: { q: [1, null], of: 3 } })).toMatchObject({
      kind: 'rubbish',
      place: 'port.elbow',
    })
    expect(read(speech, '{')).toMatchObject({ kind: 'rubbish' })
  })

  test('in: the pose in which it begins, by a pointer of its own', () => {
    const standing = speechOf(
      { ...socket, ready: { at: '/state', is: 'standing by', park: '/stands' } },
      about,
    )
    expect(read(standing, { state: 'standing by', stands: [0.3, -1] })).toEqual({
      kind: 'ready',
      park: [0.3, -1],
    })
    expect(read(standing, { state: 'standing by' })).toMatchObject({
      kind: 'rubbish',
      says: expect.stringContaining('park (at /stands) must be a list of 2 numbers'),
    })
  })

  test('without a counter an answer has none', () => {
    const bare = speechOf({ ...socket, counter: null, setpoints: '', ready: null }, about)
    expect(bare.waits).toBe(false)
    expect(read(bare, [1, 2])).toEqual({ kind: 'answer', count: null, setpoints: [1, 2] })
  })
})
