/**
 * Whole runs, in virtual time, with a driver to copy behind each way: what it asks for does not depend on what carries it, so
 * that the frames of all runs are those of the run with a process, to the byte.
 */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterEach, describe, expect, test } from 'vitest'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import { type Bridge, overPty, overUdp, overWebSocket } from '../setup/driver-bridge.mjs'
import { JAVASCRIPT } from '../setup/example-drivers.mjs'
import { needs } from '../setup/needs.js'
import { rigBy, rigWith } from '../setup/own-driver.js'
import { eventsOf, type Played, play, temporaryFolder } from '../setup/runs.js'

const out = temporaryFolder()
/** Each period of a run waits for another process, which a busy machine makes wait. */
const LONG = { timeout: 300_000 }

const AHEAD = `name: ahead
about: Ahead for a while, and to rest.
duration: "8 s"
commands:
  - { at: "0.5 s", surge: "0.3 m/s", yaw: "5 deg/s", over: "0.5 s" }
  - { at: "6 s", surge: "0 m/s", yaw: "0 deg/s", over: "0.5 s" }
expect: { outcome: finish, strokes: [{ arm: starboard, direction: ahead, least: 1 }], parked: true }
`

let played: ReturnType<typeof play> | null = null
/** Once for all. */
function byProcess(): Promise<Played> {
  played ??= play(join(out, 'process'), rigWith(JAVASCRIPT), AHEAD)
  return played
}

const bridges: Bridge[] = []
afterEach(async () => {
  for (const bridge of bridges.splice(0)) await bridge.end()
})
async function behind<T extends Bridge>(opening: Promise<T>): Promise<T> {
  const bridge = await opening
  bridges.push(bridge)
  return bridge
}

async function asByProcess({ folder, verdict }: Played): Promise<void> {
  const reference = await byProcess()
  expect(verdict.findings).toEqual([])
  expect(verdict.outcome, verdict.sentence).toBe('pass')
  expect(verdict.stop).toBeNull()
  const frames = (of: string): Buffer => readFileSync(join(of, 'frames.pcapng'))
  expect(frames(folder).equals(frames(reference.folder))).toBe(true)
  // What it said for people stays with the bridge.
  const events = (of: string) => eventsOf(of).filter((e) => e.kind !== 'said')
  expect(events(folder)).toEqual(events(reference.folder))
  expect(judgeRecording(folder).judgement.verdict).toEqual(verdict)
}

test('datagrams', LONG, async () => {
  const bridge = await behind(overUdp(JAVASCRIPT))
  await asByProcess(await play(join(out, 'udp'), rigBy(bridge.section), AHEAD))
  expect(JSON.parse(bridge.heard[0]!)).toMatchObject({ hello: 1, 'owns-bus': false })
  expect(bridge.heard.at(-1)).toBe('{"bye":true}')
})

test('a WebSocket with messages of its own form', LONG, async () => {
  const bridge = await behind(overWebSocket(JAVASCRIPT))
  const run = await play(join(out, 'websocket'), rigBy(bridge.section), AHEAD)
  await asByProcess(run)
  const heard = bridge.heard.map((text) => JSON.parse(text))
  expect(heard[0]).toMatchObject({ want: 'arms', boat: 'reservoir-skiff', beat: 0.005 })
  expect(heard[0].of).toHaveLength(12)
  expect(heard.slice(1, 3)).toEqual([{ price: '$5' }, { start: true }])
  expect(heard.at(-1)).toEqual({ farewell: 'reservoir-skiff' })
  const commands = heard.filter((m) => m.helm)
  expect(commands.length).toBe(heard.length - 4)
  expect(commands.map((m) => m.number)).toEqual(commands.map((_, i) => i + 1))
  const [asked] = eventsOf(run.folder).filter((e) => e.kind === 'asked')
  expect(commands[0]).toMatchObject({ helm: { ahead: 0, turn: 0 }, at: asked!.t / 1e9 })
  expect(commands.at(600).helm).toEqual({ ahead: 0.3, turn: (5 / 180) * Math.PI })
})

describe.skipIf(!needs('socat'))('a serial line', () => {
  test('a pseudo-terminal, with the driver at its other end', LONG, async () => {
    const bridge = await behind(overPty(JAVASCRIPT))
    await asByProcess(await play(join(out, 'serial'), rigBy(bridge.section), AHEAD))
  })
})

describe('nobody answers', () => {
  const unmet = async (section: readonly string[]): Promise<unknown> =>
    play(join(out, 'nobody'), rigBy([...section, 'handshake: "300 ms"']), AHEAD).catch((e: unknown) => e)

  test('datagrams: it was not ready in time, and nothing is run', async () => {
    const silent = await behind(overUdp(['node', '-e', 'setInterval(() => {}, 1e6)']))
    expect(await unmet(silent.section)).toMatchObject({
      code: 'driver-access',
      message: expect.stringContaining('it was not ready within 300 ms'),
    })
    // Said again, as datagrams may be lost; by the wall clock, of which no more is known.
    expect(silent.heard.length).toBeGreaterThan(0)
    expect(new Set(silent.heard.map((text) => Object.keys(JSON.parse(text))[0]))).toEqual(new Set(['hello']))
  })

  test('a WebSocket that is connected, and says nothing', async () => {
    const silent = await behind(overWebSocket(['node', '-e', 'setInterval(() => {}, 1e6)']))
    expect(await unmet(silent.section)).toMatchObject({
      code: 'driver-access',
      message: expect.stringContaining('it was not ready within 300 ms'),
    })
    expect(silent.heard.map((text) => Object.keys(JSON.parse(text))[0])).toEqual(['want', 'price'])
  })

  test('a serial port that is not there', async () => {
    expect(await unmet(['kind: serial', 'device: /dev/no-such-port'])).toMatchObject({
      code: 'driver-access',
      message: expect.stringContaining('/dev/no-such-port'),
    })
  })
})
