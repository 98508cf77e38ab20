/** The guided jog in real time, on arms in another process over TCP; a person is played by answers on standard input. */

import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { connect, createServer, type Server, type Socket } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, it } from 'vitest'
import { OnATerminal } from '../setup/on-a-terminal.js'
import { PATIENT_RIG } from '../setup/patient-rig.js'
import { freePorts, Program } from '../setup/program.js'

const SLOW_AHEAD = new URL('../../scenarios/slow-ahead.yaml', import.meta.url).pathname

let folder: string
let rigFile: string
let programs: Program[]
let terminals: OnATerminal[]
let plug: Plug
let armsOver: string[]
let over: string[]

/** A line that can be cut and mended: what comes in on `port` goes to `to`. */
class Plug {
  readonly #server: Server
  readonly #sockets = new Set<Socket>()
  constructor(port: number, to: number) {
    this.#server = createServer((near) => {
      const far = connect(to, '127.0.0.1')
      for (const [a, b] of [
        [near, far],
        [far, near],
      ] as const) {
        this.#sockets.add(a)
        a.pipe(b)
        a.on('error', () => b.destroy()).on('close', () => b.destroy())
      }
    }).listen(port, '127.0.0.1')
  }
  pull(): void {
    for (const socket of this.#sockets) socket.destroy()
    this.#sockets.clear()
  }
  end(): void {
    this.pull()
    this.#server.close()
  }
}

function start(...args: string[]): Program {
  const program = new Program(...args)
  programs.push(program)
  return program
}

const onBus = (port: number | undefined, starboard: number | undefined): string[] => [
  ...['--bus', `port-can=slcan:tcp:127.0.0.1:${port}`],
  ...['--bus', `starboard-can=slcan:tcp:127.0.0.1:${starboard}`],
]

beforeEach(async () => {
  programs = []
  terminals = []
  folder = mkdtempSync(join(tmpdir(), 'drystroke-jog-'))
  rigFile = join(folder, 'mine.yaml')
  writeFileSync(rigFile, PATIENT_RIG)
  const [port, starboard, plugged] = await freePorts(3)
  plug = new Plug(plugged!, port!)
  armsOver = ['--rig', rigFile, ...onBus(port, starboard)]
  over = ['--rig', rigFile, ...onBus(plugged, starboard)]
})

afterEach(async () => {
  for (const program of [...programs, ...terminals.map((t) => t.program)]) await program.end('SIGKILL')
  plug.end()
  rmSync(folder, { recursive: true, force: true })
})

const kept = (): Record<string, unknown>[] =>
  JSON.parse(readFileSync(join(folder, 'mine.confirmed.json'), 'utf8')).confirmations

const jogging = (...args: string[]): Program =>
  start('jog', ...over, '--by', 'somebody', '--out', join(folder, 'out'), ...args)

async function arms(): Promise<Program> {
  const program = start('stand-in', ...armsOver, '--json')
  await program.line(/"serving"/)
  return program
}

it('a joint is moved and confirmed, with the drive that it has, and its recording ends at rest', async () => {
  await arms()
  const jog = jogging('--joint', 'port.elbow')
  // The rig's name; clear; direction, size, mark.
  for (const answer of ['reservoir-skiff', '', '-', '5', 'y']) jog.type(answer)
  expect(await jog.ended(), jog.err.join('\n')).toBe(0)
  expect(kept()).toEqual([
    expect.objectContaining({
      ...{ what: 'joint', place: 'port.elbow', by: 'somebody', arms: 'real' },
      drive: 'vendor 0h, product 192h, revision 1h, serial Dh, firmware "simulated 1.0"',
      found: expect.stringMatching(/^moved -(4\.9|5)[.\d]* deg by its feedback/),
    }),
  ])
  const events = readFileSync(join(folder, 'out/jog/events.jsonl'), 'utf8')
  expect(events).toMatch(/"stage":"prove"/)
  expect(events.trimEnd().split('\n').at(-1)).toMatch(/"kind":"end".*"completed"/)
})

it('without the rig name nothing is moved', async () => {
  await arms()
  const jog = jogging('--joint', 'port.elbow')
  jog.type('skiff')
  expect(await jog.ended()).toBe(2)
  expect(jog.err.join('\n')).toMatch(/the name was not typed/)
  expect(() => kept()).toThrow()
})

it('a signal while a question is open stops the arms and ends the jog at once', async () => {
  await arms()
  const jog = jogging('--joint', 'port.elbow', '--confirm', 'reservoir-skiff')
  await jog.line(/^port\.elbow: about its axis/)
  jog.process.kill('SIGINT')
  expect(await jog.ended()).toBe(2)
  expect(jog.err.join('\n')).toMatch(/stopped by signal: SIGINT was received/)
  expect(readFileSync(join(folder, 'out/jog/events.jsonl'), 'utf8')).toMatch(/"kind":"stop"/)
})

it('the plug of a bus is pulled: what nobody could hear is told by an eye and by the feedback afterwards', async () => {
  const stand = await arms()
  const jog = jogging('--unplug', 'port-can', '--confirm', 'reservoir-skiff')
  jog.type('')
  await stand.line(/"what":"moves","joint":"port/)
  plug.pull()
  for (const answer of ['y', '0.3', '']) jog.type(answer)
  expect(await jog.ended(), [...jog.out, ...jog.err].join('\n')).toBe(0)
  expect(kept()).toEqual([
    expect.objectContaining({
      ...{ what: 'unplug', place: 'port-can', arms: 'real' },
      found: expect.stringMatching(/^by eye still about 0\.3 s .* from where it was last heard/),
    }),
  ])
})

it('on a stand-in that has proven to be one, every confirmation is a rehearsal: a run refuses real arms', async () => {
  const orders = join(folder, 'orders')
  const stand = start('stand-in', ...over, '--orders', orders, '--json')
  plug.end()
  await stand.line(/"serving"/)
  const jog = jogging('--joint', 'port.elbow', '--stand-in', orders)
  for (const answer of ['', '-', '5', 'y']) jog.type(answer)
  expect(await jog.ended(), jog.err.join('\n')).toBe(0)
  expect(kept()).toEqual([expect.objectContaining({ place: 'port.elbow', arms: 'stand-in' })])
  const run = start('run', SLOW_AHEAD, ...over, '--confirm', 'reservoir-skiff', '--out', join(folder, 'run'))
  expect(await run.ended()).toBe(2)
  expect(run.err.join('\n')).toMatch(/^Nothing was moved: rig reservoir-skiff lacks confirmations/)
  expect(run.err.join('\n')).toMatch(/port\.elbow: .* never confirmed, only rehearsed on simulated arms/)
  expect(existsSync(join(folder, 'run'))).toBe(false)
})

/** The hard-wired stop takes the power of these drives, one after another. */
function unpower(stand: Program, joints: readonly string[]): void {
  for (const joint of joints) stand.type(`fault unpowered ${joint}`)
}

const JOINTS = ['port', 'starboard'].flatMap((arm) =>
  ['swing', 'shoulder', 'elbow', 'roll', 'pitch', 'feather'].map((joint) => `${arm}.${joint}`),
)

it('the hard-wired stop alone: every drive falls silent, which is told for what it is, and the reading is kept', async () => {
  const stand = await arms()
  const jog = jogging('--hard-stop', '--confirm', 'reservoir-skiff')
  jog.type('')
  await jog.line(/^ {2}Press the hard-wired stop now/)
  unpower(stand, JOINTS)
  // Seen; the reading, first one that is none; how.
  for (const answer of ['y', '0.2', '0.32 s', 'laser gate, full speed']) jog.type(answer)
  expect(await jog.ended(), [...jog.out, ...jog.err].join('\n')).toBe(0)
  expect(kept()).toEqual([
    expect.objectContaining({
      ...{ what: 'stop', arms: 'real', time: null },
      found: expect.stringMatching(
        /^every drive lost power .* the feedback of 12 joints ended with the power/,
      ),
    }),
    expect.objectContaining({
      what: 'stopping-time',
      arms: 'real',
      time: 0.32,
      found: 'laser gate, full speed',
    }),
  ])
})

it('one drive that keeps its power is named, and nothing is confirmed or asked', async () => {
  const stand = await arms()
  const jog = jogging('--hard-stop', '--confirm', 'reservoir-skiff')
  jog.type('')
  await jog.line(/Press the hard-wired stop now/)
  unpower(stand, JOINTS.slice(0, -1))
  for (const answer of ['y', '0.32 s', 'laser gate']) jog.type(answer)
  expect(await jog.ended(), [...jog.out, ...jog.err].join('\n')).toBe(1)
  expect(jog.out.join('\n')).toMatch(/hard-wired stop: still with power: starboard\.feather/)
  expect(() => kept()).toThrow()
})

it('simulated arms in real time lose their power by an order, which rehearses it', async () => {
  const jog = start(
    'jog',
    '--rig',
    rigFile,
    '--realtime',
    '--hard-stop',
    '--by',
    'me',
    '--out',
    join(folder, 'o'),
  )
  for (const answer of ['', 'y', '']) jog.type(answer)
  expect(await jog.ended(), [...jog.out, ...jog.err].join('\n')).toBe(0)
  expect(kept()).toEqual([expect.objectContaining({ what: 'stop', arms: 'simulated' })])
})

it.skipIf(spawnSync('python3', ['-c', 'import pty']).status !== 0)(
  'on a terminal a blank stops the arms only while they have power: after it a sentence may be typed',
  async () => {
    const t = new OnATerminal(
      ...['jog', '--rig', rigFile, '--realtime', '--hard-stop', '--by', 'me', '--out', join(folder, 'o')],
    )
    terminals.push(t)
    const shown = async (text: string): Promise<void> => {
      while (!t.shown.includes(text)) await t.more()
    }
    await shown('Press Enter when everybody is clear of the arms: ')
    t.type('\r')
    await shown('by what you see and hear? y or n: ')
    t.type('y\r')
    await shown('Enter alone: none was taken: ')
    t.type('320 ms\r')
    await shown('In a sentence: ')
    t.type('a laser gate at full speed, quick enough\r')
    expect(await t.ended(), t.shown).toEqual({ status: 0, raw: true, restored: true })
    expect(kept()).toEqual([
      expect.objectContaining({ what: 'stop', arms: 'simulated' }),
      expect.objectContaining({ time: 0.32, found: 'a laser gate at full speed, quick enough' }),
    ])
  },
)
