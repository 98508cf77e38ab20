/** A driver that owns the buses, on paper: when its SYNC is missed, and what it may still send after a stop. */
import { expect, it } from 'vitest'
import type { Finding } from '../../../src/files/event.js'
import { OwnerWatch } from '../../../src/watch/owner.js'
import type { DriveCommand, ReportedState } from '../../../src/wire/observation.js'
import { rig as rigOf } from './rig.js'
import { Transcript, told, watching } from './transcript.js'

function owned() {
  const plain = rigOf()
  const rig = { ...plain, buses: plain.buses.map((b) => ({ ...b, owner: 'driver' as const })) }
  const findings: Finding[] = []
  const watch = new OwnerWatch({
    rig,
    scenario: {} as never,
    settings: rig.watch.owner,
    report: (f) => findings.push({ watch: 'owner', ...f }),
  })
  const kinds = new Set<string>(watch.kinds)
  const run = new Transcript(rig, (o) => {
    if (kinds.has(o.kind)) watch.see(o)
  })
  const figure = (name: string): number => watch.figures().find((f) => f.name === name)!.value
  const state = (joint: number, s: ReportedState) =>
    run.see({ kind: 'state', t: run.t, joint, state: s, follows: false, word: 0 })
  const control = (command: DriveCommand, sent = false) =>
    run.see({ kind: 'control', t: run.t, bus: 0, joint: 1, command, word: 0, sent })
  return { run, watch, findings, figure, state, control }
}

const moving = { setpoint: () => 0.1, feedback: () => 0.1 }
const resting = { feedback: () => 0.1 }

it('has nothing to see where the harness owns the buses, and is not named', () => {
  const { watch, run, findings } = watching('owner')
  expect(watch.kinds).toEqual([])
  expect(watch.seen).toBe(false)
  run.stage('play').cycles(10, moving).stop().cycles(100, moving)
  expect(findings).toEqual([])
})

it('is quiet on a good run, and on a driver that obeys', () => {
  const { run, findings, figure, control } = owned()
  run.stage('setup').stage('seed').stage('enable').cycles(10, moving).stage('approach').cycles(10, moving)
  run.stage('play').cycles(50, moving).stop().stage('stopping').cycles(19, moving)
  control('enable operation')
  run.cycles(10, resting)
  control('shutdown')
  control('disable voltage', true)
  run.stage('stopped').cycles(400, resting)
  expect(findings).toEqual([])
  // Its last setpoint was that of the 19th cycle after the stop, its last enable that of the 20th: 5 ms each.
  expect(figure('last setpoint or enable of the driver after a stop')).toBeCloseTo(0.095)
})

it('tells of SYNC that ceases at the first tick beyond five periods, and of each bus once', () => {
  const { run, findings, figure } = owned()
  run.stage('seed').stage('play').cycles(10, moving)
  // Last SYNC of cycle 9 at 45 ms: a tick at 70 ms is not beyond, one at 75 ms is.
  for (let k = 10; k <= 20; k++) {
    run.k = k
    run.see({ kind: 'tick', t: run.t, k, late: 0, setpoints: null, witness: null })
    expect(findings.length).toBe(k < 15 ? 0 : 2)
  }
  expect(told(findings)).toEqual([
    'failure port-can SYNC of the driver',
    'failure starboard-can SYNC of the driver',
  ])
  expect(findings[0]).toMatchObject({ t: 75e6, value: 0.03, limit: 0.025, stop: 1 })
  run.cycles(3, moving)
  expect(figure("longest silence of the driver's SYNC")).toBeCloseTo(0.055)
})

it('a SYNC that comes late tells its own lateness, with the half microsecond by which whole nanoseconds may be off', () => {
  const { run, findings, figure } = owned()
  const sync = (t: number) => run.see({ kind: 'sync', t, bus: 0, index: 0 })
  run.stage('play')
  sync(10e6)
  sync(35e6 + 500)
  expect(findings).toEqual([])
  sync(60e6 + 1002)
  expect(told(findings)).toEqual(['failure port-can SYNC of the driver'])
  expect(findings[0]!.t).toBe(60e6 + 1002)
  expect(figure("longest silence of the driver's SYNC")).toBeCloseTo(0.025, 5)
})

it.each([
  ...(['seed', 'enable', 'prove', 'approach', 'play', 'park'] as const),
  ...(['disable', 'rest', 'stopping', 'stopped'] as const),
])('SYNC is due in the stage %s', (stage) => {
  const { run, findings } = owned()
  run.stage(stage).cycles(1, resting)
  run.k += 10
  run.see({ kind: 'tick', t: run.t, k: run.k, late: 0, setpoints: null, witness: null })
  expect(findings).toHaveLength(2)
})

it('what was due goes on being due when another stage begins', () => {
  const { run, findings } = owned()
  const tick = () => run.see({ kind: 'tick', t: run.t, k: run.k, late: 0, setpoints: null, witness: null })
  run.stage('enable').cycles(1, resting)
  run.k = 4
  run.stage('approach')
  run.k = 6
  tick()
  expect(told(findings)).toEqual([
    'failure port-can SYNC of the driver',
    'failure starboard-can SYNC of the driver',
  ])
})

it('says nothing of SYNC before the drives are set up, and warns only after a stop', () => {
  const { run, findings } = owned()
  run.stage('setup').cycles(3, resting)
  run.k = 100
  run.see({ kind: 'tick', t: run.t, k: 100, late: 0, setpoints: null, witness: null })
  expect(findings).toEqual([])
  run.stage('seed').stage('play').cycles(3, moving).stop().stage('stopping')
  run.k += 10
  run.see({ kind: 'tick', t: run.t, k: run.k, late: 0, setpoints: null, witness: null })
  expect(findings.map((f) => f.severity)).toEqual(['warning', 'warning'])
  run.stage('setup').cycles(3, resting).stage('seed').cycles(30, resting)
  run.k += 10
  run.see({ kind: 'tick', t: run.t, k: run.k, late: 0, setpoints: null, witness: null })
  expect(findings.map((f) => f.severity).slice(2)).toEqual(['failure', 'failure'])
})

it('tells of the first setpoint beyond the time to obey, and of no other', () => {
  const { run, findings } = owned()
  run.stage('play').cycles(10, moving)
  const at = run.t
  run.stop().stage('stopping').cycles(60, moving)
  expect(told(findings)).toEqual(['failure port.roll driver after the stop'])
  // 100 ms may be, the next cycle is 105 ms after the stop.
  expect(findings[0]).toMatchObject({ t: at + 105e6, value: 0.105, limit: 0.1, stop: 1 })
})

it.each(['switch on', 'enable operation', 'fault reset'] as const)('tells of the command %s', (command) => {
  const { run, findings, control } = owned()
  run.stage('play').cycles(10, moving).stop().stage('stopping').cycles(30, resting)
  control(command)
  expect(told(findings)).toEqual(['failure port.pitch driver after the stop'])
})

it('bears what takes torque away from a driver, whatever the harness sends, and names the bus of what goes to all', () => {
  const { run, findings, figure, control } = owned()
  run.stage('play').cycles(10, moving).stop().stage('stopping').cycles(30, resting)
  for (const command of ['quick stop', 'disable voltage', 'shutdown'] as const) control(command)
  control('fault reset', true)
  expect(findings).toEqual([])
  expect(figure('last setpoint or enable of the driver after a stop')).toBe(0)
  run.see({
    kind: 'control',
    t: run.t,
    bus: 1,
    joint: -1,
    command: 'enable operation',
    word: 15,
    sent: false,
  })
  expect(told(findings)).toEqual(['failure starboard-can driver after the stop'])
})

it('gives a frame on the identifier of the stop no time at all', () => {
  const { run, findings } = owned()
  run.stage('play').cycles(10, moving).stop().stage('stopping').cycles(1, resting)
  run.see({ kind: 'foreign', t: run.t, bus: 1, id: 0x181 })
  expect(told(findings)).toEqual(['failure starboard-can driver after the stop'])
  expect(findings[0]!.limit).toBe(0)
})

it('tells at once of a drive that is enabled again, once each', () => {
  const { run, findings, figure, state } = owned()
  run.stage('play').cycles(10, moving)
  state(2, 'operation enabled')
  state(3, 'operation enabled')
  run.stop().stage('stopping').cycles(2, resting)
  state(2, 'quick stop active')
  state(3, 'quick stop active')
  run.cycles(1, resting)
  // 605Ah of 5 to 8: back from the quick stop itself.
  state(3, 'operation enabled')
  state(2, 'switch on disabled')
  state(2, 'ready to switch on')
  state(2, 'switched on')
  expect(told(findings)).toEqual(['failure starboard.roll enabled again'])
  state(2, 'operation enabled')
  expect(told(findings).at(-1)).toBe('failure port.feather enabled again')
  state(2, 'switch on disabled')
  state(2, 'operation enabled')
  expect(findings).toHaveLength(2)
  expect(figure('drives enabled again after a stop')).toBe(3)
})

it('a drive that was off slows nothing down: one that says quick stop active again has been enabled', () => {
  const { run, findings, state } = owned()
  run.stage('play').cycles(10, moving).stop().stage('stopping').cycles(2, resting)
  state(2, 'switch on disabled')
  state(2, 'quick stop active')
  expect(told(findings)).toEqual(['failure port.feather enabled again'])
  expect(findings[0]!.says).toContain('it went to quick stop active')
})

it('each stop is a new one: what came of the last is forgotten', () => {
  const { run, findings, figure, state } = owned()
  const disobeyed = () => {
    run.stage('play').cycles(10, moving).stop().stage('stopping').cycles(1, resting)
    // Slows down, from being enabled: nothing is wrong with that.
    state(1, 'quick stop active')
    expect(findings).toEqual([])
    state(1, 'switch on disabled')
    state(1, 'operation enabled')
    run.cycles(30, moving)
    state(1, 'switch on disabled')
    return findings.splice(0)
  }
  const first = disobeyed()
  run.stage('setup').stage('seed').stage('enable')
  state(1, 'operation enabled')
  expect(told(first)).toEqual(['failure port.pitch enabled again', 'failure port.roll driver after the stop'])
  expect(told(disobeyed())).toEqual(told(first))
  expect(figure('drives enabled again after a stop')).toBe(2)
})

it('the latest setpoint after a stop is the greatest of all stops', () => {
  const { run, figure } = owned()
  run.stage('play').cycles(10, moving).stop().stage('stopping').cycles(10, moving)
  run.stage('setup').stage('play').cycles(10, moving).stop().stage('stopping').cycles(3, moving)
  expect(figure('last setpoint or enable of the driver after a stop')).toBeCloseTo(0.045)
})

it.each([
  // CiA 402: quick stop, shutdown, disable operation, halt and fault reaction option code.
  [0x605a, 0, 'failure', 1],
  [0x605b, 0, 'failure', 1],
  [0x605c, 0, 'failure', 1],
  [0x605d, 0, 'failure', 1],
  [0x605e, 0, 'failure', 1],
  // Modes of operation, following error window and time-out, quick stop deceleration, abort connection option code.
  [0x6060, 0, 'failure', 1],
  [0x6065, 0, 'failure', 1],
  [0x6066, 0, 'failure', 1],
  [0x6085, 0, 'failure', 1],
  [0x6007, 0, 'failure', 1],
  // CiA 301: COB-ID SYNC, consumer heartbeat time, error behaviour, RPDO communication and mapping, first and last.
  [0x1005, 0, 'failure', 1],
  [0x1016, 1, 'failure', 1],
  [0x1029, 1, 'failure', 1],
  [0x1400, 1, 'failure', 1],
  [0x17ff, 0, 'failure', 1],
  [0x13ff, 0, 'warning', null],
  [0x605f, 0, 'warning', null],
  [0x6072, 0, 'warning', null],
  [0x1800, 5, 'warning', null],
  [0x6081, 0, 'warning', null],
] as const)('a write to %i sub %i while arms may move is a %s', (index, sub, severity, stop) => {
  const { run, findings, figure } = owned()
  const write = () => run.see({ kind: 'written', t: run.t, joint: 1, index, sub })
  run.stage('setup')
  write()
  run.stage('seed').stage('enable')
  write()
  expect(findings).toEqual([])
  run.stage('approach')
  write()
  write()
  run.stage('play')
  write()
  expect(findings).toHaveLength(1)
  expect(findings[0]).toMatchObject({ severity, stop, place: 'port.pitch', quantity: 'set-up in motion' })
  expect(findings[0]!.says).toContain(`${index.toString(16).toUpperCase()}h sub ${sub}`)
  expect(figure('writes to the set-up of drives in motion')).toBe(3)
  run.stage('park')
  write()
  expect(figure('writes to the set-up of drives in motion')).toBe(4)
  run.stage('disable')
  write()
  expect(figure('writes to the set-up of drives in motion')).toBe(4)
})

it('a write that a stop hangs on is told also where a lesser one was', () => {
  const { run, findings } = owned()
  run.stage('play')
  for (const index of [0x6072, 0x6072, 0x605a, 0x6072, 0x605a])
    run.see({ kind: 'written', t: run.t, joint: 1, index, sub: 0 })
  expect(findings.map((f) => f.severity)).toEqual(['warning', 'failure'])
})

it('a write after the stop has the time of what was under way', () => {
  const { run, findings, figure } = owned()
  const write = () => run.see({ kind: 'written', t: run.t, joint: 1, index: 0x6040, sub: 0 })
  run.stage('play').cycles(10, moving).stop()
  write()
  run.stage('stopping').cycles(20, resting)
  write()
  expect(findings).toEqual([])
  expect(figure('writes to the set-up of drives in motion')).toBe(0)
  run.cycles(1, resting)
  write()
  expect(told(findings)).toEqual(['failure port.pitch driver after the stop'])
  expect(findings[0]!.says).toContain('a write to 6040h sub 0 by SDO')
})

it('holds the proof of the stop path to the same, and lets a new start enable', () => {
  const { run, findings, state } = owned()
  run.stage('enable').cycles(5, moving)
  state(0, 'operation enabled')
  run.stage('prove')
  state(0, 'switch on disabled')
  run.stage('setup').stage('seed').stage('enable')
  state(0, 'operation enabled')
  run.cycles(30, moving)
  expect(findings).toEqual([])
  run.stage('prove').cycles(1, resting)
  state(0, 'switch on disabled')
  state(0, 'operation enabled')
  expect(told(findings)).toEqual(['failure port.roll enabled again'])
})
