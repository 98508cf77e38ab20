/**
 * Link, start-up and stop with drives that speak a frame map, as transcripts on a bus in the test's hand. Rig:
 * tests/unit/files/small-frames-rig.yaml; its drives answer a request with 180h + node.
 */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { JointLink } from '../../../src/link/link.js'
import { Startup, type StartupRefusal } from '../../../src/link/startup.js'
import { StopSequence } from '../../../src/stop/sequence.js'
import { type Frame, frame } from '../../../src/wire/frame.js'
import { change } from '../../setup/runs.js'
import { watchSchemas } from '../files/watch-schemas.js'
import { FakeBus, text } from './fake-bus.js'

const TEXT = readFileSync(new URL('../files/small-frames-rig.yaml', import.meta.url), 'utf8')
const TICK = 5e6

type State = 'off' | 'enabled' | 'stopping' | 'fault'
const NUMBER: Record<State, number> = { off: 0, enabled: 1, stopping: 1, fault: 7 }

/** A drive in the test's hand. Not modelled: motion, time-outs, frame times. */
class ScriptedDrive {
  readonly node: number
  state: State = 'off'
  mute = false
  /** Ticks after which a stop is over; -1: never. */
  stopsIn = 3
  /** Commands without effect. */
  deafTo = new Set<number>()
  garbled = false
  #count = 0
  #left = 0

  constructor(node: number) {
    this.node = node
  }

  hear({ id, data }: Frame): Frame[] {
    if (this.deafTo.has(id)) return []
    if (id === 0x0c0) return this.mute ? [] : [this.#feedback()]
    if (id === 0x010 && this.state === 'enabled') {
      this.state = 'stopping'
      this.#left = this.stopsIn
    }
    if (id === 0x011 && this.state !== 'fault') this.state = 'off'
    if (id === 0x200 + this.node && data[0] === 1 && this.state === 'off') this.state = 'enabled'
    if (id === 0x200 + this.node && data[0] === 2 && this.state === 'fault') this.state = 'off'
    return []
  }

  /** 1000 steps of 0.002 deg each: 2 deg. */
  #feedback(): Frame {
    if (this.state === 'stopping' && this.#left-- === 0) this.state = 'off'
    const last = ((++this.#count & 15) << 4) | NUMBER[this.state]
    const bytes = [0x00, 0x03, 0xe8, last, this.state === 'stopping' ? 1 : 0]
    return frame(0x180 + this.node, Uint8Array.from(this.garbled ? bytes.slice(1) : bytes))
  }
}

class Table {
  readonly link: JointLink
  readonly startup: Startup
  readonly stop: StopSequence
  readonly drives = [new ScriptedDrive(1), new ScriptedDrive(2)]
  /** All that we sent, requests and setpoints once in a row. */
  readonly said: string[] = []
  t = 0
  readonly #bus = new FakeBus('can-a')

  constructor(rigText = TEXT) {
    const rig = loadRig(rigText, 'small-frames-rig.yaml', watchSchemas)
    this.link = new JointLink(rig, [this.#bus, new FakeBus('can-b')])
    this.startup = new Startup(rig, this.link)
    this.stop = new StopSequence(rig, this.link)
    this.startup.begin(0)
  }

  tick(): StartupRefusal | null {
    this.t += TICK
    const { cyclic } = this.startup
    if (cyclic) this.link.sync()
    this.talk()
    const refusal = this.startup.tick(this.t)
    if (cyclic && !refusal) this.link.shadow(this.t)
    this.talk()
    return refusal
  }

  run(): StartupRefusal | null {
    for (let i = 0; i < 2000 && this.startup.step !== 'ready'; i++) {
      const refusal = this.tick()
      if (refusal) return refusal
    }
    return null
  }

  /** Ticks of a stop. */
  stopping(ticks: number): void {
    for (let i = 0; i < ticks; i++) {
      this.t += TICK
      this.link.sync()
      this.talk()
      this.stop.tick(this.t)
      this.talk()
    }
  }

  talk(): void {
    for (const f of this.#bus.sent.splice(0)) {
      const line = f.id > 0x140 && f.id < 0x150 ? 'setpoint' : text(f)
      if (this.said.at(-1) !== line && !(line === '0c0:' && this.said.includes(line))) this.said.push(line)
      for (const d of this.drives) for (const answer of d.hear(f)) this.link.onFrame(0, answer, this.t)
    }
  }
}

describe('start-up', () => {
  it('asks, listens, shadows, enables; nothing of CANopen is said', () => {
    const table = new Table()
    expect(table.run()).toBeNull()
    expect(table.said).toEqual(['0c0:', 'setpoint', '201: 01', '202: 01', 'setpoint'])
    expect(table.link.drives.map((d) => [d.state, d.follows])).toEqual([
      ['operation enabled', true],
      ['operation enabled', true],
    ])
    // 2 deg less the zero of 7.2 deg; and turned round.
    const [swing, elbow] = table.link.drives.map((d) => (d.position * 180) / Math.PI)
    expect(swing).toBeCloseTo(-5.2, 9)
    expect(elbow).toBeCloseTo(-2, 9)
  })

  it('says once, by bus, what could not be checked', () => {
    const table = new Table()
    table.run()
    const { notices } = table.startup
    expect(notices.map((n) => 'bus' in n && n.bus)).toEqual([0, 0])
    expect(notices[0]!.says).toMatch(/set-up .* neither written nor read back/)
    expect(notices[1]!.says).toMatch(/do not say that they follow/)
    notices.length = 0
    table.startup.begin(table.t)
    for (const d of table.drives) d.state = 'off'
    table.run()
    expect(notices).toEqual([])
  })

  it('resets a fault, and enables then', () => {
    const table = new Table()
    table.drives[1]!.state = 'fault'
    expect(table.run()).toBeNull()
    const commands = table.said.filter((l) => l.startsWith('20'))
    expect(commands.slice(0, 2)).toEqual(['201: 02', '202: 02'])
    expect(commands.slice(-2)).toEqual(['201: 01', '202: 01'])
  })

  it('stops a drive that is enabled already, before anything else, and says so', () => {
    const table = new Table()
    table.drives[0]!.state = 'enabled'
    expect(table.run()).toBeNull()
    expect(table.said.slice(0, 2)).toEqual(['0c0:', '010:'])
    expect(table.startup.notices[0]).toMatchObject({
      drive: { joint: { name: 'port.swing' } },
      says: expect.stringMatching(/found giving torque/),
    })
  })

  it('refuses a drive that neither stop nor disable ends', () => {
    const table = new Table()
    table.drives[0]!.state = 'enabled'
    table.drives[0]!.deafTo = new Set([0x010, 0x011])
    const refusal = table.run()!
    expect(refusal.drive!.joint.name).toBe('port.swing')
    expect(refusal.says).toMatch(/hard-wired stop/)
    expect(refusal.found).toBe('operation enabled')
    expect(table.said).toEqual(expect.arrayContaining(['010:', '011:']))
    expect(table.said).not.toContain('setpoint')
  })

  it.each([
    ['sends nothing', (d: ScriptedDrive) => (d.mute = true), /^none$/],
    [
      'sends frames that do not fit',
      (d: ScriptedDrive) => (d.garbled = true),
      /another length, constant or checksum/,
    ],
  ])('refuses a drive that %s', (_, spoil, found) => {
    const table = new Table()
    spoil(table.drives[1]!)
    const refusal = table.run()!
    expect(refusal.drive!.joint.name).toBe('port.elbow')
    expect(refusal).toMatchObject({
      says: expect.stringMatching(/^sends no feedback/),
      expected: 'a feedback frame within 2 s',
    })
    expect(refusal.found).toMatch(found)
    expect(table.said).toEqual(['0c0:'])
  })

  it('refuses a drive that does not come to be enabled', () => {
    const table = new Table()
    table.drives[0]!.deafTo = new Set([0x201])
    expect(table.run()).toMatchObject({
      expected: 'a state that means enabled within 2 s',
      found: 'switch on disabled, not following',
    })
  })
})

describe('a stop', () => {
  const ready = (rigText = TEXT): Table => {
    const table = new Table(rigText)
    expect(table.run()).toBeNull()
    table.said.length = 0
    return table
  }

  it('is one stop frame; disable once every drive is off; no setpoint, no enable and no second way', () => {
    const table = ready()
    table.stop.begin(1, table.t)
    table.talk()
    expect(table.said).toEqual(['010:'])
    table.link.control('enable operation')
    table.link.cycle(table.t, new Float64Array(2))
    table.stopping(20)
    expect(table.said).toEqual(['010:', '0c0:', '011:'])
    expect(table.link.drives.map((d) => d.state)).toEqual(['switch on disabled', 'switch on disabled'])
    expect(table.stop.notices).toEqual([])
  })

  it('is repeated every 20 ms to a drive that does not confirm it, which is said', () => {
    const table = ready()
    table.drives[1]!.deafTo = new Set([0x010])
    table.stop.begin(1, table.t)
    table.stopping(10)
    expect(table.said.filter((l) => l === '010:').length).toBeGreaterThanOrEqual(1)
    expect(table.stop.notices).toEqual([
      {
        drive: table.link.drives[1],
        says: 'did not obey quick stop by its frame within 20 ms and was told again; it has no other way to be told',
      },
    ])
  })

  it('of category 0 is the disable frame at once', () => {
    const table = ready()
    table.stop.begin(0, table.t)
    table.talk()
    expect(table.said).toEqual(['011:'])
  })

  it('by a map without a disable frame stays the stop frame; one without a confirmation says so', () => {
    const text = change(change(TEXT, / {4}disable.*\n/, ''), / {4}confirms-stop.*\n/, '')
    const table = ready(text)
    table.stop.begin(1, table.t)
    table.stopping(20)
    expect(new Set(table.said)).toEqual(new Set(['010:', '0c0:']))
    expect(table.stop.notices).toContainEqual({
      bus: 0,
      says: expect.stringMatching(/do not confirm a stop/),
    })
  })
})
