/** Drivers of somebody else's, in virtual time: the two examples lead the demo arms, broken ones are found out and stop them. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import { JAVASCRIPT, PYTHON } from '../setup/example-drivers.mjs'
import { broken, gone, rigWith } from '../setup/own-driver.js'
import { DEMO_RIG, eventsOf, play, temporaryFolder } from '../setup/runs.js'

const out = temporaryFolder()
/** Each period of a run waits for another process, which a busy machine makes wait. */
const LONG = { timeout: 300_000 }

const SHORT = `name: short
about: A few seconds ahead.
duration: "1 s"
commands: [{ at: "0.1 s", surge: "0.2 m/s", yaw: "0 deg/s", over: "0.5 s" }]
expect: { outcome: stop, by: driver, after: "0 s", within: "1 s", still: "1 s" }
`

const TOUR = `name: tour
about: Ahead, round to port with the port side astern; then commands cease.
duration: "15 s"
commands:
  - { at: "0.5 s", surge: "0.35 m/s", yaw: "0 deg/s", over: "0.5 s" }
  - { at: "4.5 s", surge: "0.1 m/s", yaw: "20 deg/s", over: "0.5 s" }
  - { at: "8 s", ceases: true }
expect: { outcome: finish, strokes: [{ arm: starboard, direction: ahead, least: 1 }], parked: true }
`

const CEASES = `name: commands-cease
about: Commands cease under way.
duration: "6 s"
commands:
  - { at: "0.5 s", surge: "0.2 m/s", yaw: "0 deg/s" }
  - { at: "1 s", ceases: true }
expect: { outcome: stop, by: driver, after: "1 s", within: "4 s", still: "1 s" }
`

/** Each played once for all who look at it. */
const toured = new Map<readonly string[], ReturnType<typeof play>>()
function tourOf(run: readonly string[]): ReturnType<typeof play> {
  const playing = toured.get(run) ?? play(out, rigWith(run), TOUR)
  toured.set(run, playing)
  return playing
}

describe.each([
  ['plain JavaScript', JAVASCRIPT],
  ['Python', PYTHON],
])('the example in %s', (_, run) => {
  test('paddles as the watches want it, and comes to rest when commands cease', LONG, async () => {
    const { verdict, folder } = await tourOf(run)
    expect(verdict.findings).toEqual([])
    expect(verdict.outcome).toBe('pass')
    const figures = new Map(
      verdict.watches.find((w) => w.watch === 'driver')!.figures.map((f) => [f.name, f]),
    )
    // One period, by the design of the link: what was asked in one is sent in the next.
    expect(figures.get('age of the command acted on, greatest')!.value).toBeCloseTo(0.005, 9)
    expect(figures.get('command to its answer, greatest')).toMatchObject({ value: 0, limit: 0.05 })
    expect(figures.get('rate of answers')!.value).toBeCloseTo(200, 6)
    const rest = figures.get('commands ceased to rest')!
    expect(rest.value).toBeGreaterThan(1)
    expect(rest.value).toBeLessThan(rest.limit!)
    const said = eventsOf(folder).flatMap((e) => (e.kind === 'said' ? [e.says] : []))
    expect(said[0]).toContain('paddling reservoir-skiff')
    expect(judgeRecording(folder).judgement.verdict).toEqual(verdict)
  })
})

test('both examples lead the arms alike, to the rounding of the record', LONG, async () => {
  const [first, second] = await Promise.all(
    [JAVASCRIPT, PYTHON].map(async (run) => {
      const { folder } = await tourOf(run)
      return eventsOf(folder).flatMap((e) => (e.kind === 'tick' && e.setpoints ? [e.setpoints] : []))
    }),
  )
  expect(first!.length).toBe(second!.length)
  const worst = Math.max(
    ...first!.map((q, k) => Math.max(...q.map((value, i) => Math.abs(value - second![k]![i]!)))),
  )
  expect(worst).toBeLessThan(3e-6)
})

test('the reference driver comes to rest too, within what is worked out from the rig', async () => {
  const { verdict } = await play(out, DEMO_RIG, TOUR)
  const rest = verdict.watches
    .find((w) => w.watch === 'driver')!
    .figures.find((f) => f.name === 'commands ceased to rest')!
  expect(verdict.outcome).toBe('pass')
  expect(rest.value).toBeGreaterThan(1)
  expect(rest.value).toBeLessThan(rest.limit!)
})

/** What a driver says on standard error comes by a pipe of its own, whenever the system hands it over: between which periods is chance. */
const withoutSaid = (text: string): string[] =>
  text.split('\n').filter((line) => !line.includes('"kind":"said"'))

test('the same run gives the same bytes, but for when standard error is read', LONG, async () => {
  const runs = await Promise.all([1, 2].map((i) => play(join(out, `again-${i}`), rigWith(JAVASCRIPT), SHORT)))
  const [first, second] = runs.map(
    ({ folder }) =>
      (file: string) =>
        readFileSync(join(folder, file)),
  )
  for (const file of ['frames.pcapng', 'verdict.json']) expect(first!(file).equals(second!(file))).toBe(true)
  const [one, other] = [first!, second!].map((read) => withoutSaid(read('events.jsonl').toString()))
  expect(one!.length).toBeGreaterThan(100)
  expect(one).toEqual(other)
})

test('one that does not heed that commands have ceased is stopped', async () => {
  const deaf = [
    'node',
    '-e',
    `import('node:module').then(async () => {
      const { createInterface } = await import('node:readline')
      let park = [], k = 0
      for await (const line of createInterface({ input: process.stdin })) {
        const m = JSON.parse(line)
        if (m.hello) { park = m.park; console.log('{"ready":1}') }
        else if (m.n) console.log(JSON.stringify({ n: m.n, setpoints: park.map((q) => q + 0.02 * (1 - Math.cos(2e-2 * k++ / 12))) }))
      }
    })`,
  ]
  const { verdict } = await play(out, rigWith(deaf, ['rest: "1.5 s"']), CEASES)
  const finding = verdict.findings.find((f) => f.quantity === 'time to rest without commands')!
  expect(finding).toMatchObject({ watch: 'driver', severity: 'failure', limit: 1.5, stop: 1 })
  expect(finding.value).toBeGreaterThan(1.5)
  expect(finding.value).toBeLessThan(1.51)
  expect(verdict.outcome).toBe('pass')
})

test.each([
  ['dies', 'driver-lost', 'it ended with status 3; it said last: this is the end'],
  ['crashes', 'driver-lost', 'a wheel came off'],
  ['floods', 'driver-flood', 'it sends far more than it is asked for'],
  ['one long line', 'driver-rubbish', 'a line longer than 65536 bytes came: xxx'],
  ['prints words', 'driver-rubbish', '"debug: all is well" is no JSON object'],
  ['sends NaN', 'driver-rubbish', 'NaN and Infinity are no JSON'],
  ['sends null', 'driver-rubbish', 'setpoints of port.elbow must be a finite number'],
  ['too few', 'driver-rubbish', 'must be 12 numbers, one for each joint; 11 came'],
  ['stale counter', 'driver-rubbish', 'it answers command 40 after 59'],
  ['counter ahead', 'driver-rubbish', 'it answers command 61; the last one that was sent is 60'],
])('a driver that %s is found out, and the arms are stopped', async (how, code, says) => {
  const { verdict, folder } = await play(out, rigWith(broken(how)), SHORT)
  const finding = verdict.findings.find((f) => f.watch === 'driver')!
  expect(finding).toMatchObject({ severity: 'failure', quantity: code, says: expect.stringContaining(says) })
  expect(verdict.stop).toMatchObject({ source: 'driver', category: 1 })
  // Command 60 goes out in the 60th period of the scenario, 0.3 s after its beginning; the stop comes in the next.
  const zero = eventsOf(folder).find((e) => e.kind === 'stage' && e.stage === 'play')!.t
  expect((verdict.stop!.t - zero) / 1e9).toBeCloseTo(0.305, 6)
  expect(judgeRecording(folder).judgement.verdict).toEqual(verdict)
})

test("a jump is the last gate's", async () => {
  const { verdict } = await play(out, rigWith(broken('jumps')), SHORT.replace('by: driver', 'by: gate'))
  expect(verdict.stop).toMatchObject({ source: 'gate' })
})

test.each([
  ['no such program', ['no-such-program-here'], 'ENOENT'],
  [
    'an end before it is ready',
    ['node', '-e', 'console.error("no arms found"); process.exit(9)'],
    'status 9; it said last: no arms found',
  ],
])('%s: nothing is run, and nothing is written', async (_, run, says) => {
  const error = await play(join(out, 'nothing'), rigWith(run), SHORT).catch((e: unknown) => e)
  expect(error).toMatchObject({ code: 'driver-access', message: expect.stringContaining(says) })
})

test.each(['child and grandchild', 'heeds nothing'])(
  '%s: nothing of it is left after the run',
  async (how) => {
    const { folder } = await play(out, rigWith(broken(how)), SHORT)
    const said = eventsOf(folder).find((e) => e.kind === 'said' && e.says.startsWith('pids '))!
    const pids = (said as { says: string }).says.slice(5).split(' ').map(Number)
    expect(pids.length).toBeGreaterThan(0)
    await Promise.all(pids.map(gone))
  },
)
