import { mkdirSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { DrystrokeError } from '../../../src/errors.js'
import { readRigFile } from '../../../src/files/load.js'
import {
  type Confirmation,
  confirmedDrives,
  lacking,
  rigHash,
  toConfirm,
  withConfirmations,
} from '../../../src/ready/confirmed.js'
import { confirmedFile, readConfirmed, writeConfirmed } from '../../../src/ready/store.js'
import { temporaryFolder } from '../../setup/runs.js'

const RIG = readRigFile('rigs/reservoir-skiff.yaml', {})
const HASH = rigHash('the rig file')
const DAY = 86_400
const NOW = Date.parse('2030-06-30T12:00:00Z')
const ageOf = (at: string): number => (NOW - Date.parse(at)) / 1000

const all = (changes: Partial<Confirmation> = {}): Confirmation[] =>
  toConfirm(RIG).map((thing) => ({
    ...thing,
    at: '2030-06-01T12:00:01Z',
    by: 'somebody',
    rig: HASH,
    arms: 'real' as const,
    drive: null,
    time: null,
    found: 'as it should be',
    ...changes,
  }))

const lacks = (confirmations: readonly Confirmation[]): string[] => lacking(RIG, confirmations, HASH, ageOf)

describe('what is lacking', () => {
  it('every joint, the hard-wired stop and every bus, when nothing has been confirmed', () => {
    const gaps = lacks([])
    expect(gaps).toHaveLength(12 + 1 + 2)
    expect(gaps).toContain('port.elbow: direction, unit and zero were never confirmed')
    expect(gaps).toContain('the hard-wired stop was never confirmed')
    expect(gaps).toContain('starboard-can: the unplug test was never confirmed')
  })

  it('nothing, when all has been confirmed within 30 days for this very rig', () => {
    expect(lacks(all())).toEqual([])
  })

  it.each([
    ['a day too old', { at: '2030-05-31T11:59:59Z' }, /has expired \(motion.confirmed-for: 30 d\)/],
    ['in the future', { at: '2030-07-30T12:00:00Z' }, /in the future/],
    ['at no time', { at: 'yesterday' }, /in the future/],
    ['another state of the rig', { rig: rigHash('the rig file ') }, /another state of the rig file/],
    ['simulated arms', { arms: 'simulated' as const }, /never confirmed, only rehearsed on simulated arms/],
  ] as const)('all of it, when it was confirmed: %s', (_, changes, says) => {
    const gaps = lacks(all(changes))
    expect(gaps).toHaveLength(15)
    for (const gap of gaps) expect(gap).toMatch(says)
  })

  it('one joint, when only that one changed', () => {
    const confirmations = all().map((c) => (c.place === 'port.roll' ? { ...c, rig: 'old' } : c))
    expect(lacks(confirmations)).toEqual([
      'port.roll: direction, unit and zero were confirmed by somebody on 2030-06-01, but for another state of the rig file',
    ])
  })

  it('the newest of each thing is looked at, whatever came before', () => {
    const old = all({ at: '2030-01-01T00:00:00Z', rig: 'old' })
    expect(lacks([...old, ...all()])).toEqual([])
    expect(lacks([...all(), ...old])).toHaveLength(15)
  })

  it.each([
    ['confirmed 5 minutes ahead, as clocks differ', 300, 0],
    ['confirmed a second more', 301, 15],
  ])('%s', (_, ahead, gaps) => {
    const at = new Date(NOW + ahead * 1000).toISOString()
    expect(lacks(all({ at }))).toHaveLength(gaps)
  })

  it('a rehearsal of another thing is none of this', () => {
    const time = all({ what: 'stopping-time', place: '', arms: 'simulated' }).slice(0, 1)
    expect(lacks(time)).toContain('the hard-wired stop was never confirmed')
  })

  it('days are told in whole ones that are over', () => {
    const strict = { ...RIG, motion: { ...RIG.motion, confirmedFor: 20.5 * DAY } }
    expect(lacking(strict, all(), HASH, ageOf)[0]).toMatch(/confirmed-for: 20 d/)
  })

  it('follows the setting of the rig', () => {
    const strict = { ...RIG, motion: { ...RIG.motion, confirmedFor: 20 * DAY } }
    expect(lacking(strict, all(), HASH, ageOf)).toHaveLength(15)
  })
})

describe('drives that were confirmed', () => {
  const drives = (...confirmations: Confirmation[]) => confirmedDrives(RIG, confirmations, HASH)
  const elbow = all({ drive: 'serial 1' }).find((c) => c.place === 'port.elbow')!
  const index = RIG.joints.findIndex((j) => j.name === 'port.elbow')

  it('are those of real arms in this state of the rig, the newest of each joint', () => {
    expect(drives(elbow)).toEqual(RIG.joints.map((j) => (j.name === 'port.elbow' ? 'serial 1' : null)))
    expect(drives(elbow, { ...elbow, drive: 'serial 2' })[index]).toBe('serial 2')
  })

  it.each([
    ['of another rig', { rig: 'old' }],
    ['of a stand-in', { arms: 'stand-in' }],
    ['of another thing', { what: 'unplug' }],
  ] as const)('not those %s', (_, changes) => {
    expect(drives({ ...elbow, ...changes })[index]).toBeNull()
  })
})

describe('adding', () => {
  it('the newest of each thing stays, and a rehearsal takes nothing away', () => {
    const old = all()
    const again = old[3]!
    const rehearsal = { ...again, arms: 'simulated' as const }
    expect(lacks(withConfirmations(old, [rehearsal]))).toEqual([])
    const both = withConfirmations(withConfirmations(old, [rehearsal]), [{ ...again, by: 'another' }])
    expect(both).toHaveLength(16)
    expect(both.filter((c) => c.place === again.place && c.arms === 'real').map((c) => c.by)).toEqual([
      'another',
    ])
  })
})

describe('the file', () => {
  const folder = temporaryFolder()

  it('is beside the rig file, and comes back as it was', () => {
    const file = confirmedFile(join(folder, 'skiff.yaml'))
    expect(file).toBe(join(folder, 'skiff.confirmed.json'))
    expect(confirmedFile(join(folder, 'skiff.yml'))).toBe(file)
    expect(readConfirmed(file)).toEqual([])
    writeConfirmed(file, 'skiff', all())
    expect(readConfirmed(file)).toEqual(all())
    writeConfirmed(file, 'skiff', [])
    expect(readConfirmed(file)).toEqual([])
    expect(readdirSync(folder)).toEqual(['skiff.confirmed.json'])
  })

  it('keeps rehearsals, and times', () => {
    const file = join(folder, 'rehearsed.confirmed.json')
    const mixed = [...all({ arms: 'stand-in' }), ...all({ what: 'stopping-time', time: 0.32, place: '' })]
    writeConfirmed(file, 'skiff', mixed)
    expect(readConfirmed(file)).toEqual(mixed)
  })

  it('of an earlier version, which had no times, is read', () => {
    const file = join(folder, 'earlier.confirmed.json')
    const [first] = all()
    const { time: _, ...earlier } = first!
    writeFileSync(
      file,
      JSON.stringify({ format: 'drystroke-confirmed-1', rig: 'skiff', confirmations: [earlier] }),
    )
    expect(readConfirmed(file)).toEqual([first])
  })

  it('that is there and cannot be read is an error, not none', () => {
    const file = join(folder, 'folder.confirmed.json')
    mkdirSync(file)
    expect(() => readConfirmed(file)).toThrow(/folder.confirmed.json: cannot be read/)
  })

  it('is written past what an interrupted writer left, and through no link', () => {
    const file = join(folder, 'linked.confirmed.json')
    const other = join(folder, 'other.txt')
    writeFileSync(other, 'mine')
    symlinkSync(other, `${file}.${process.pid}.new`)
    writeConfirmed(file, 'skiff', all())
    expect(readConfirmed(file)).toEqual(all())
    expect(readFileSync(other, 'utf8')).toBe('mine')
  })

  it('stays what it was when it cannot be written', () => {
    const file = join(folder, 'taken.confirmed.json')
    // A folder cannot be replaced by a file, whoever asks.
    mkdirSync(join(file, 'inside'), { recursive: true })
    expect(() => writeConfirmed(file, 'skiff', all())).toThrow(/cannot be written/)
    expect(readdirSync(file)).toEqual(['inside'])
    expect(readdirSync(folder).filter((f) => f.endsWith('.new'))).toEqual([])
  })

  it.each([
    ['no JSON', '{ "format": '],
    ['something else', '[]'],
    ['another format', JSON.stringify({ format: 'drystroke-confirmed-0', rig: 'x', confirmations: [] })],
    [
      'a time without meaning',
      JSON.stringify({
        format: 'drystroke-confirmed-1',
        rig: 'x',
        confirmations: [{ ...all()[0], at: '1 June' }],
      }),
    ],
    [
      'what nobody knows',
      JSON.stringify({
        format: 'drystroke-confirmed-1',
        rig: 'x',
        confirmations: [{ ...all()[0], more: 1 }],
      }),
    ],
    [
      'a time below nothing',
      JSON.stringify({
        format: 'drystroke-confirmed-1',
        rig: 'x',
        confirmations: [{ ...all()[0], time: -1 }],
      }),
    ],
    [
      'nobody',
      JSON.stringify({ format: 'drystroke-confirmed-1', rig: 'x', confirmations: [{ ...all()[0], by: '' }] }),
    ],
  ])('is refused with %s in it, never taken for none', (_, text) => {
    const file = join(folder, 'bad.confirmed.json')
    writeFileSync(file, text)
    expect(() => readConfirmed(file)).toThrow(DrystrokeError)
    expect(() => readConfirmed(file)).toThrow(
      /bad.confirmed.json: found .*; expected what drystroke jog writes/,
    )
    expect(readFileSync(file, 'utf8')).toBe(text)
  })
})
