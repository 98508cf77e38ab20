/** The driver under test as a transcript: what goes to it, what comes, what the bench is told. No time passes by itself. */
import { expect, test } from 'vitest'
import type { Way, WayListener } from '../../../../src/driver/link/messages.js'
import { type DriverUnderTest, meetDriver } from '../../../../src/driver/link/under-test.js'
import { DrystrokeError } from '../../../../src/errors.js'
import type { DriverLinkSettings } from '../../../../src/files/driver.js'
import type { BenchEvent } from '../../../../src/files/event.js'

const PERIOD = 5e6
const every = { ownsBus: false, every: null, handshake: 2, answer: 0.05, rest: null, parked: 0.01 }
const PROCESS: DriverLinkSettings = { kind: 'process', ...every, run: ['own'] }

class Table {
  sent: string[] = []
  events: BenchEvent[] = []
  words: string[] = []
  now = 0
  deaf = false
  closed: string[] | null = null
  isOpen = true
  listener!: WayListener
  driver!: DriverUnderTest
  readonly out = new Float64Array(2)
  readonly #due: { ms: number; task: () => void }[] = []
  readonly way: Way

  constructor() {
    const table = this
    this.way = {
      place: 'own',
      pid: 7,
      get open() {
        return table.isOpen
      },
      send: (text) => void this.sent.push(text),
      deafen: () => {
        this.deaf = true
      },
      close: async (last) => {
        this.closed = [...last]
      },
      abandon: () => {},
    }
  }

  async meet(link: DriverLinkSettings = PROCESS, hello = '{"ready":1}'): Promise<this> {
    const meeting = meetDriver({
      link,
      about: { rig: 'small', joints: ['port.swing', 'port.elbow'], period: 0.005, park: [0.1, 1.5] },
      open: async (listener) => {
        this.listener = listener
        return this.way
      },
      later: (ms, task) => {
        const entry = { ms, task }
        this.#due.push(entry)
        return () => void this.#due.splice(this.#due.indexOf(entry), 1)
      },
      onSaid: (line) => this.words.push(line),
    })
    await Promise.resolve()
    await Promise.resolve()
    if (hello !== '') this.listener.onMessage(hello)
    this.driver = await meeting
    this.driver.attach({ now: () => this.now, event: (e) => this.events.push(e) })
    this.sent = []
    return this
  }

  /** The time-out of that many ms has come. */
  expire(ms: number): void {
    for (const entry of this.#due.splice(0)) if (entry.ms === ms) entry.task()
  }

  /** One period. @returns what was sent */
  step(surge = 0.3, yaw = 0): string[] {
    this.sent = []
    if (Number.isNaN(surge)) this.driver.stepAlone(this.out)
    else this.driver.step({ surge, yaw }, this.out)
    this.now += PERIOD
    return this.sent
  }

  answer(n: number, setpoints: readonly number[] = [0.1, 1.5]): void {
    this.listener.onMessage(JSON.stringify({ n, setpoints }))
  }

  refusal(): DrystrokeError {
    try {
      this.step()
    } catch (error) {
      if (error instanceof DrystrokeError) return error
      throw error
    }
    throw new Error('it had no trouble')
  }
}

test('commands are counted; setpoints are used in the period after the one that asked for them', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  expect(t.sent).toEqual(['{"begin":true}'])
  expect(t.step(0.3, -0.2)).toEqual(['{"n":1,"t":0,"surge":0.3,"yaw":-0.2}'])
  expect([...t.out]).toEqual([0.1, 1.5])
  t.answer(1, [0.2, 1.6])
  expect(t.step(0.3)).toEqual(['{"n":2,"t":0.005,"surge":0.3,"yaw":0}'])
  expect([...t.out]).toEqual([0.2, 1.6])
  expect(t.step(Number.NaN)).toEqual(['{"n":3,"t":0.01}'])
  expect(t.events).toEqual([
    { kind: 'asked', t: 0, n: 1 },
    { kind: 'answered', t: PERIOD, n: 1, changed: true },
    { kind: 'asked', t: PERIOD, n: 2 },
    { kind: 'asked', t: 2 * PERIOD, n: 3 },
  ])
})

test('its own park pose is where it stands, and where it is parked', async () => {
  const t = await new Table().meet(PROCESS, '{"ready":1,"park":[0.5,1]}')
  expect([...t.driver.parkPose]).toEqual([0.5, 1])
  t.driver.begin()
  t.step()
  expect([...t.out]).toEqual([0.5, 1])
  for (let n = 1; n < 41; n++) {
    t.answer(n, [0.5, 1.009])
    t.step(0)
    expect(t.driver.parked).toBe(n === 40)
  }
  t.answer(41, [0.5, 1.011])
  t.step(0)
  expect(t.driver.parked).toBe(false)
})

test('while a speed is asked for it is not parked, wherever it stands', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  for (let n = 1; n < 100; n++) {
    t.step(0.001)
    t.answer(n)
  }
  expect(t.driver.parked).toBe(false)
})

test('settle waits for the answer to the last command, and for nothing else', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  expect(t.driver.settle()).toBeNull()
  t.step()
  let settled = false
  const waiting = t.driver.settle()!.then(() => {
    settled = true
  })
  await Promise.resolve()
  expect(settled).toBe(false)
  t.answer(1)
  await waiting
  expect(t.driver.settle()).toBeNull()
})

test('virtual time: no answer within the wall clock is a trouble', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  t.step()
  const waiting = t.driver.settle()!
  t.expire(2000)
  await waiting
  expect(t.refusal()).toMatchObject({ code: 'driver-silent', message: expect.stringContaining('within 2 s') })
})

test('real time: the oldest command without an answer is too old just after the limit', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  for (let n = 1; n <= 3; n++) {
    t.step()
    t.answer(n)
  }
  // Commands 4..14 stay unanswered; the eleventh step is 50 ms after the first of them.
  for (let i = 0; i <= 10; i++) t.step()
  expect(t.refusal()).toMatchObject({ code: 'driver-silent', message: expect.stringContaining('for 55 ms') })
  expect(t.deaf).toBe(true)
})

test('one that answers, but is farther and farther behind, is too old as well', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  let n = 0
  expect(() => {
    for (let k = 1; k < 100; k++) {
      t.step()
      if (k % 2 === 0) t.answer(++n)
    }
  }).toThrow(/has not answered a command for/)
})

test('every: commands are rarer than periods, and setpoints of its own accord are taken between them', async () => {
  const t = await new Table().meet({ ...PROCESS, every: 0.02 })
  t.driver.begin()
  const sent: number[] = []
  for (let k = 0; k < 12; k++) {
    sent.push(t.step().length)
    t.answer(1 + Math.floor(k / 4), [k, k])
  }
  expect(sent).toEqual([1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0])
  expect(t.out[0]).toBe(10)
})

/** ns after the deadline of each tick that a loop in real time comes to its driver: the first time later than ever after, then as it comes. */
const UNEVEN = [1.2e6, 0.1e6, 0.8e6, 0.3e6, 2.1e6, 0.2e6, 0, 1.1e6, 0.4e6, 0.1e6, 0.9e6, 0.2e6]

test.each([
  ['left out', null, [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]],
  ['one period', 0.005, [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1]],
  ['four periods', 0.02, [1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0]],
])(
  'every, %s: the clock of an uneven loop leaves no period without the command that belongs to it',
  async (_, every, commands) => {
    const t = await new Table().meet({ ...PROCESS, every })
    t.driver.begin()
    const sent = UNEVEN.map((after, k) => {
      t.now = k * PERIOD + after
      const { length } = t.step()
      t.answer(t.events.filter((e) => e.kind === 'asked').length)
      return length
    })
    expect(sent).toEqual(commands)
  },
)

test('every, no whole count of periods: each command goes out in the period nearest to its time', async () => {
  const t = await new Table().meet({ ...PROCESS, every: 0.012, answer: 1 })
  t.driver.begin()
  const sent = Array.from({ length: 13 }, () => t.step().length)
  // Due at 0, 12, 24, 36, 48 and 60 ms.
  expect(sent).toEqual([1, 0, 1, 0, 0, 1, 0, 1, 0, 0, 1, 0, 1])
})

test.each([
  [
    'a stale counter',
    '{"n":1,"setpoints":[0,0]}',
    'driver-rubbish',
    'went back: it answers command 1 after 2',
  ],
  [
    'a counter of the future',
    '{"n":9,"setpoints":[0,0]}',
    'driver-rubbish',
    'the last one that was sent is 3',
  ],
  ['a wrong number of setpoints', '{"n":3,"setpoints":[0]}', 'driver-rubbish', '1 came'],
  [
    'what is no number',
    '{"n":3,"setpoints":[null,0]}',
    'driver-rubbish',
    'port.swing must be a finite number',
  ],
  ['words', 'tick', 'driver-rubbish', '"tick" is no JSON object'],
])('%s', async (_, message, code, says) => {
  const t = await new Table().meet()
  t.driver.begin()
  for (let n = 1; n <= 3; n++) {
    t.step()
    if (n < 3) t.answer(n)
  }
  expect(t.driver.trouble).toBeNull()
  t.listener.onMessage(message)
  const { trouble } = t.driver
  expect(trouble).toMatchObject({ code, message: expect.stringContaining(says) })
  // Nothing is believed after it.
  t.answer(3, [9, 9])
  expect(t.refusal()).toBe(trouble)
  expect(t.out[0]).toBe(0.1)
})

test('a flood is told, and read no more', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  t.step()
  for (let i = 0; i < 2000 && !t.driver.trouble; i++) t.answer(1)
  expect(t.driver.trouble).toMatchObject({ code: 'driver-flood' })
  expect(t.deaf).toBe(true)
  expect(t.events.length).toBeLessThan(520)
})

test('four answers to each command, for a minute, are no flood', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  for (let n = 1; n <= 12_000; n++) {
    t.step()
    for (let i = 0; i < 4; i++) t.answer(n)
  }
  expect(t.driver.trouble).toBeNull()
})

test('its last words stand beside its end, and each line in the record', async () => {
  const t = new Table()
  await t.meet()
  t.listener.onSaid('before the run begins')
  t.driver.begin()
  for (const line of ['one', 'two', '', 'three', 'four']) t.listener.onSaid(line)
  t.listener.onLost('lost', 'it ended with status 3')
  expect(t.refusal()).toMatchObject({
    code: 'driver-lost',
    message: 'it ended with status 3; it said last: two | three | four',
  })
  expect(t.events.filter((e) => e.kind === 'said').map((e) => e.says)).toEqual([
    'before the run begins',
    'one',
    'two',
    'three',
    'four',
  ])
  expect(t.words).toHaveLength(5)
})

test('words without end are cut off in the record', async () => {
  const t = await new Table().meet()
  for (let i = 0; i < 5000; i++) t.listener.onSaid(`line ${i}`)
  expect(t.events).toHaveLength(1000)
  expect(t.events.at(-1)).toMatchObject({ says: 'what it says after this is not recorded' })
})

test('after a stop nothing of before is believed, and it begins at its park pose', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  for (let n = 1; n <= 3; n++) {
    t.step()
    if (n < 3) t.answer(n, [n, n])
  }
  t.now += 5e9
  t.sent = []
  t.driver.begin()
  expect(t.sent).toEqual(['{"begin":true}'])
  t.answer(3, [9, 9])
  t.step()
  expect([...t.out]).toEqual([0.1, 1.5])
  expect(t.driver.trouble).toBeNull()
  t.answer(4, [0.2, 1.5])
  t.step()
  expect(t.out[0]).toBe(0.2)
})

test('what was lost and came back is met with a new start', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  t.step()
  t.isOpen = false
  t.listener.onLost('lost', 'the line was cut')
  // What comes back must be heard.
  expect(t.deaf).toBe(false)
  t.driver.meetAnew()
  expect(t.refusal().code).toBe('driver-lost')
  t.isOpen = true
  t.sent = []
  t.listener.onBack('connected anew')
  expect(t.sent.map((text) => JSON.parse(text).hello)).toEqual([1])
  expect(t.events.at(-1)).toMatchObject({ kind: 'rejoined', says: 'connected anew' })
  expect(t.refusal().code).toBe('driver-lost')
  // Before the arms are moved to where it begins: nobody may wait for one that is gone.
  t.driver.meetAnew()
  expect(t.driver.trouble).toBeNull()
  t.driver.begin()
  t.step()
  expect(t.driver.trouble).toBeNull()
  t.listener.onLost('lost', 'the line was cut again')
  expect(t.refusal().message).toContain('the line was cut again')
})

test('what sent rubbish is not met anew, whatever is open', async () => {
  const t = await new Table().meet()
  t.driver.begin()
  t.step()
  t.listener.onMessage('tick')
  t.driver.meetAnew()
  t.driver.begin()
  expect(t.refusal().code).toBe('driver-rubbish')
})

test('commands that were missed while the loop stood still are not made up for', async () => {
  const t = await new Table().meet({ ...PROCESS, every: 0.02, answer: 1 })
  t.driver.begin()
  t.step()
  t.now += 20 * PERIOD
  const sent = Array.from({ length: 9 }, () => t.step().length)
  expect(sent).toEqual([1, 0, 0, 0, 1, 0, 0, 0, 1])
})

test('one that owns the buses is told its orders: each command when it is due, another order at once', async () => {
  const t = await new Table().meet({ ...PROCESS, ownsBus: true, every: 0.02 })
  expect(t.driver.heeds).toBe(true)
  const lead = (order: string): string[] => {
    t.sent = []
    t.driver.lead(order, { surge: 0.1, yaw: 0 })
    t.now += PERIOD
    return t.sent.map((text) => JSON.parse(text).do)
  }
  expect(['enable', 'enable', 'follow', 'follow', 'follow'].map(lead)).toEqual([
    ['enable'],
    [],
    ['follow'],
    [],
    [],
  ])
  // It has a time of its own: a run in virtual time does not wait for what it may answer.
  expect(t.driver.settle()).toBeNull()
  // It hears the stop also when something of it is broken, and its trouble is not thrown here.
  t.listener.onMessage('tick')
  expect(t.driver.trouble).toMatchObject({ code: 'driver-rubbish' })
  expect(lead('stop')).toEqual(['stop'])
  expect(t.driver.settle()).toBeNull()
})

test('a greeting that may be lost is said again until it is answered', async () => {
  const t = new Table()
  const meeting = t.meet({ kind: 'udp', ...every, host: '127.0.0.1', port: 1, ownPort: null }, '')
  await Promise.resolve()
  await Promise.resolve()
  expect(t.sent).toHaveLength(1)
  t.expire(250)
  expect(t.sent).toHaveLength(2)
  t.listener.onMessage('{"ready":1}')
  t.sent = []
  t.expire(250)
  await meeting
  expect(t.sent).toEqual([])
})

test('not ready in time: it is let go of, with a word on what it said last', async () => {
  const t = new Table()
  const meeting = t.meet(PROCESS, '')
  await Promise.resolve()
  await Promise.resolve()
  t.listener.onSaid('waiting for the moon')
  t.expire(2000)
  const error = await meeting.catch((e: unknown) => e)
  expect(error).toMatchObject({ code: 'driver-access', exitStatus: 2 })
  expect((error as Error).message).toContain('The driver (own): it was not ready within 2 s')
  expect(t.closed).toEqual([])
})

test('another protocol, and an end before it is ready, are told at once', async () => {
  const old = await new Table().meet(PROCESS, '{"ready":0}').catch((e: unknown) => e)
  expect(old).toMatchObject({ code: 'driver-access', message: expect.stringContaining('protocol 0') })
  const t = new Table()
  const meeting = t.meet(PROCESS, '')
  await Promise.resolve()
  await Promise.resolve()
  t.listener.onLost('lost', 'it ended with status 1')
  await expect(meeting).rejects.toMatchObject({ message: expect.stringContaining('it ended with status 1') })
})

test('a way that cannot be opened is the driver that is not there, whatever failed', async () => {
  const port = new DrystrokeError('bus-access', '/dev/ttyX: there is no such port; plug it in', {})
  const meeting = meetDriver({
    link: { kind: 'serial', ...every, device: '/dev/ttyX', rate: 9600 },
    about: { rig: 'small', joints: ['port.swing'], period: 0.005, park: [0] },
    open: () => Promise.reject(port),
    later: () => () => {},
  })
  await expect(meeting).rejects.toMatchObject({
    code: 'driver-access',
    message: expect.stringContaining('The driver (serial): /dev/ttyX: there is no such port; plug it in.'),
  })
})

test('at the end it is told so', async () => {
  const t = await new Table().meet()
  await t.driver.close()
  expect(t.closed).toEqual(['{"bye":true}'])
})
