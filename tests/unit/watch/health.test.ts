import { describe, expect, it } from 'vitest'
import type { Reported } from '../../../src/files/rig.js'
import type { RigChanges } from './rig.js'
import { told, watching } from './transcript.js'

const object = (what: Reported) =>
  ({ what, index: 0x2030, sub: 0, bytes: 2, signed: true, scale: 1, offset: 0 }) as const
const REPORTS: RigChanges = {
  reports: { every: 20, objects: [object('temperature'), object('voltage'), object('current')] },
}

function reporting(changes: RigChanges = REPORTS) {
  const seen = watching('health', changes)
  let t = 0
  const tell = (what: Reported, ...values: number[]) => {
    for (const value of values) {
      t += 1e8
      seen.run.see({ kind: 'report', t, joint: 1, what, value })
    }
  }
  /** At rest with a supply of 24 V, then in the play. */
  const play = (...rest: number[]) => {
    seen.run.stage('seed')
    tell('voltage', ...rest)
    seen.run.stage('approach').stage('play')
  }
  return { ...seen, tell, play }
}

describe('health watch', () => {
  it('has nothing to look at where the rig says of no reports', () => {
    expect(watching('health').watch.seen).toBe(false)
    expect(reporting().watch.seen).toBe(true)
  })

  it('says nothing of a drive that is warm, on a supply that gives way a little', () => {
    const { tell, play, findings, figure } = reporting()
    play(24.1, 24, 24.2)
    tell('temperature', 20, 40, 79)
    tell('voltage', 23, 22, 25, 26.3)
    tell('current', 3, -4)
    expect(findings).toEqual([])
    expect(figure('port.pitch', 'temperature, highest')).toBe(79)
    expect(figure('port.pitch', 'supply at rest')).toBe(24)
    expect(figure('port.pitch', 'supply, lowest')).toBe(22)
    expect(figure('port.pitch', 'supply, highest')).toBe(26.3)
    expect(figure('port.pitch', 'current, RMS')).toBeCloseTo(Math.sqrt(12.5), 12)
    expect(figure('port.pitch', 'current, greatest')).toBe(4)
  })

  it('warns of a hot drive, and stops one that is too hot, each at the second report in a row', () => {
    const { tell, play, findings } = reporting()
    play(24)
    tell('temperature', 79, 81, 79, 82)
    expect(findings).toEqual([])
    tell('temperature', 83, 101)
    expect(told(findings)).toEqual(['warning port.pitch temperature'])
    tell('temperature', 102)
    expect(findings[1]).toMatchObject({ severity: 'failure', stop: 1, value: 102, limit: 100, unit: 'degC' })
  })

  it.each([
    ['sag', 21.5, 19, 'supply sag'],
    ['rise', 26.5, 29, 'supply rise'],
  ])('%s of the supply: a warning, then a stop', (_, little, much, quantity) => {
    const { tell, play, findings } = reporting()
    play(24)
    tell('voltage', little, 24, little, little)
    expect(told(findings)).toEqual([`warning port.pitch ${quantity}`])
    tell('voltage', much, much)
    expect(findings[1]).toMatchObject({ severity: 'failure', stop: 1, quantity, limit: 0.2 })
    expect(findings[1]!.value).toBeCloseTo(Math.abs(much / 24 - 1), 12)
  })

  it('goes by the settings of the rig', () => {
    const { tell, play, findings } = reporting({
      ...REPORTS,
      watch: { health: { temperature: { warning: '40 degC', limit: '50 degC' } } },
    })
    play(24)
    tell('temperature', 45, 45, 55, 55)
    expect(told(findings)).toEqual(['warning port.pitch temperature', 'failure port.pitch temperature'])
  })

  it('doubts a run in which a drive kept silent that should report', () => {
    const { tell, play, findings, watch } = reporting()
    play(24)
    tell('temperature', 20)
    watch.close()
    expect(findings).toHaveLength(5)
    expect(told(findings)).not.toContain('doubt port.pitch reports')
    expect(told(findings)).toContain('doubt starboard.pitch reports')
    const before = reporting()
    before.watch.close()
    expect(before.findings).toEqual([])
  })
})
