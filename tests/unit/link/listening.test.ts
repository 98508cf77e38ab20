/** A link whose buses the driver owns: nothing leaves but the stop and the heartbeat, whatever is asked of it. */
import { readFileSync } from 'node:fs'
import { beforeEach, expect, it } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { JointLink } from '../../../src/link/link.js'
import { leavesWhileListening } from '../../../src/link/listening.js'
import { feedbackFrame } from '../../../src/wire/cia402/process.js'
import { statusBits } from '../../../src/wire/cia402/state.js'
import { frame } from '../../../src/wire/frame.js'
import type { DriveCommand, NmtCommand } from '../../../src/wire/observation.js'
import { watchSchemas } from '../files/watch-schemas.js'
import { FakeBus } from './fake-bus.js'

const text = readFileSync(new URL('../files/small-rig.yaml', import.meta.url), 'utf8').replace(
  'name: can-a, address: mock }',
  'name: can-a, address: mock, controlword: "0x190" }',
)
const rig = loadRig(
  `${text}driver: { kind: process, run: [own], owns-bus: true }\n`,
  'rig.yaml',
  watchSchemas,
)
const COMMANDS: readonly DriveCommand[] = [
  ...(['shutdown', 'switch on', 'enable operation', 'disable voltage', 'quick stop', 'fault reset'] as const),
]

let a: FakeBus
let b: FakeBus
let link: JointLink
beforeEach(() => {
  a = new FakeBus('can-a')
  b = new FakeBus('can-b')
  link = new JointLink(rig, [a, b])
  const word = statusBits('operation enabled') | 0x1000
  link.onFrame(0, feedbackFrame(0x18b, word, 1200, 0), 0)
  link.onFrame(1, feedbackFrame(0x18b, word, 0, 0), 0)
})
const taken = () => [...a.take(), ...b.take()]

it('sends quick stop and disable voltage on the identifier of the stop, and its heartbeat', () => {
  for (const command of COMMANDS) expect(link.control(command)).toEqual([])
  expect(taken()).toEqual(['190: 00 00', '190: 02 00', '181: 00 00', '181: 02 00'])
  expect(link.heartbeat()).toEqual([])
  expect(taken()).toEqual(['77f: 05', '77f: 05'])
})

it('sends no SYNC, NMT, SDO or setpoint, whoever asks', () => {
  expect(link.sync()).toEqual([])
  link.ask()
  link.inquire(1e9)
  link.permit()
  link.unsilence()
  link.shadow(1e6)
  link.cycle(1e6, new Float64Array(2))
  for (const command of ['start', 'stop', 'pre-operational', 'reset node'] as NmtCommand[])
    link.network(command)
  for (const drive of link.drives) {
    link.insist(drive, 'quick stop')
    drive.wake()
    drive.inquire(1e9)
    drive.configure(2e9)
    drive.tick(3e9)
  }
  expect(taken()).toEqual([])
})

it('owns the buses once the driver is gone: SYNC, SDO and NMT leave, setpoints and enables never', () => {
  a.waiting = 1
  link.own()
  // What waits is the stop's.
  expect(a.withdrawals).toBe(0)
  a.waiting = 0
  link.sync()
  link.insist(link.drives[0]!, 'disable voltage')
  link.network('pre-operational')
  expect(taken()).toEqual(['080:', '60b: 2b 40 60 00 00 00 00 00', '000: 80 00', '080:', '000: 80 00'])
  link.unsilence()
  link.shadow(1e6)
  link.cycle(1e6, new Float64Array(2))
  for (const command of COMMANDS) link.control(command)
  expect(taken()).toEqual(['190: 00 00', '190: 02 00', '181: 00 00', '181: 02 00'])
})

it.each([
  [true, 0x190, [2, 0]],
  [true, 0x190, [0, 0]],
  [true, 0x77f, [5]],
  [false, 0x190, [6, 0]],
  [false, 0x190, [7, 0]],
  [false, 0x190, [15, 0]],
  [false, 0x190, [128, 0]],
  [false, 0x190, [2]],
  [false, 0x181, [2, 0]],
  [false, 0x30b, [2, 0]],
  [false, 0x80, []],
  [false, 0, [128, 0]],
  [false, 0x60b, [0x2b, 0x40, 0x60, 0, 0, 0, 0, 0]],
])('the last gate, bus with 190h: %s for %i %j', (leaves, id, data) => {
  expect(leavesWhileListening(rig.buses[0]!, frame(id, Uint8Array.from(data)))).toBe(leaves)
  const extended = { ...frame(id, Uint8Array.from(data)), extended: true }
  expect(leavesWhileListening(rig.buses[0]!, extended)).toBe(false)
})
