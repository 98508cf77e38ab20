import { describe, expect, it } from 'vitest'
import { NS, told, watching } from './transcript.js'

const ALL = { feedback: () => 0 }
/** Cycle k without, or with two, frames of joint 1. */
const changed = (how: (k: number) => 0 | 1 | 2) => ({
  feedback: (j: number, k: number) => (j === 1 ? ([[], [0], [0, 0]][how(k)] ?? null) : 0),
})

describe('bus watch', () => {
  it('works out load, SYNC period and skew', () => {
    const { run, findings, figure, watch } = watching('bus')
    run.stage('play').cycles(1000, ALL)
    watch.close()
    expect(findings).toEqual([])
    // A SYNC of 51 bits and three feedback frames of 120 bits in 5 ms at 1 Mbit/s.
    const load = (51 + 3 * 120) / 5000
    expect(figure('port-can', 'load, busiest second')).toBeCloseTo(load, 9)
    expect(figure('port-can', 'load, whole run')).toBeCloseTo(load, 3)
    expect(figure('port-can', 'SYNC period, mean')).toBeCloseTo(0.005, 12)
    expect(figure('port-can', 'SYNC period, longest')).toBeCloseTo(0.005, 12)
    expect(figure('', 'SYNC skew between buses, greatest')).toBe(0)
    expect(figure('port.pitch', 'feedback lost')).toBe(0)
  })

  it('warns of a busy bus and fails a full one', () => {
    const { run, findings, figure } = watching('bus')
    const flood = (bitsPerMs: number, ms: number): void => {
      const from = run.t
      for (let i = 0; i < ms; i++) {
        run.see({ kind: 'frame', t: from + i * 1e6, bus: 1, id: 0x700, sent: false, bits: bitsPerMs })
      }
      run.k += ms / 5
    }
    flood(590, 2000)
    expect(findings).toEqual([])
    flood(620, 2000)
    expect(told(findings)).toEqual(['warning starboard-can load'])
    flood(820, 2000)
    expect(told(findings)).toEqual(['warning starboard-can load', 'failure starboard-can load'])
    expect(findings[1]!.value).toBeGreaterThan(0.8)
    flood(820, 500)
    expect(findings).toHaveLength(2)
    expect(figure('starboard-can', 'load, busiest second')).toBeCloseTo(0.82, 9)
  })

  it('warns of one late SYNC and fails many', () => {
    const { run, findings, watch, figure } = watching('bus')
    const sync = (index: number, late: number): void => {
      const t = index * NS
      run.see({ kind: 'sync', t, bus: 0, index }).see({ kind: 'sync', t: t + late, bus: 1, index })
    }
    run.stage('play')
    for (let i = 0; i < 1000; i++) sync(i, i === 500 ? 3e6 : 0)
    expect(told(findings)).toEqual(['warning starboard-can SYNC period'])
    expect(figure('', 'SYNC skew between buses, greatest')).toBeCloseTo(0.003, 12)
    expect(figure('starboard-can', 'SYNC period, longest')).toBeCloseTo(0.008, 12)
    watch.close()
    expect(findings).toHaveLength(1)
    for (let i = 1000; i < 1100; i++) sync(i, i % 10 === 0 ? 3e6 : 0)
    watch.close()
    expect(told(findings)).toEqual(['warning starboard-can SYNC period', 'failure starboard-can SYNC period'])
  })

  it('does not count the pause of SYNC in a start-up', () => {
    const { run, findings } = watching('bus')
    run.stage('play').cycles(10, ALL).stage('seed')
    run.k += 400
    run.cycles(10, ALL)
    expect(findings).toEqual([])
  })

  it('does not count what is missing while the stop is proven, and counts again in the new start', () => {
    const proven = (lost: number) => {
      const { run, findings, watch } = watching('bus')
      const all = changed((k) => (k === 15 || k === lost ? 0 : 1))
      run.stage('enable').cycles(10, all).stage('prove').cycles(20, all).stage('setup').cycles(10, all)
      run.stage('seed').stage('play').cycles(100, all)
      watch.close()
      return told(findings)
    }
    expect(proven(15)).toEqual([])
    expect(proven(80)).toEqual(['warning port.pitch feedback lost'])
  })

  it('warns of few lost frames and fails many, at the end', () => {
    const few = watching('bus')
    few.run.stage('play').cycles(
      1000,
      changed((k) => (k === 300 || k === 301 ? 0 : 1)),
    )
    expect(few.findings).toEqual([])
    few.watch.close()
    expect(told(few.findings)).toEqual(['warning port.pitch feedback lost'])
    expect(few.findings[0]!.value).toBeCloseTo(2 / 999, 9)
    const many = watching('bus')
    many.run.stage('play').cycles(
      1000,
      changed((k) => (k % 50 === 25 ? 0 : 1)),
    )
    many.watch.close()
    expect(told(many.findings)).toEqual(['failure port.pitch feedback lost'])
    expect(many.findings[0]).toMatchObject({ limit: 0.01, stop: null })
    expect(many.findings[0]!.value).toBeCloseTo(0.02, 4)
  })

  it('warns of few lost frames once, at the joint that lost most, and fails each joint that lost many', () => {
    const { run, findings, watch } = watching('bus')
    const lost = (j: number, k: number): boolean =>
      (j === 1 && k % 250 === 0) || (j === 2 && k % 125 === 0) || (j === 4 && k % 50 === 0)
    run.stage('play').cycles(1000, { feedback: (j, k) => (lost(j, k) ? null : 0) })
    watch.close()
    expect(told(findings)).toEqual([
      'failure starboard.pitch feedback lost',
      'warning port.feather feedback lost',
    ])
    expect(findings[0]!.says).toBe('Feedback frames of this joint were lost.')
    expect(findings[1]!.says).toBe('Feedback frames of 2 joints were lost, of this one most.')
  })

  it('counts doubled frames alike', () => {
    const { run, findings, watch } = watching('bus')
    run.stage('play').cycles(
      1000,
      changed((k) => (k % 50 === 25 ? 2 : 1)),
    )
    watch.close()
    expect(told(findings)).toEqual(['failure port.pitch feedback doubled'])
    expect(findings[0]!.value).toBeCloseTo(0.02, 4)
  })

  it('frames that come after the next SYNC are late, neither lost nor doubled', () => {
    const { run, findings, watch, figure } = watching('bus')
    // Two in a row are missing, and come with the third.
    run.stage('play').cycles(1000, {
      feedback: (j, k) =>
        j !== 1 ? 0 : k % 100 < 2 && k >= 100 ? null : k % 100 === 2 && k >= 100 ? [0, 0, 0] : 0,
    })
    watch.close()
    expect(told(findings)).toEqual(['failure port.pitch feedback late'])
    expect(findings[0]!.value).toBeCloseTo(18 / 999, 9)
    expect(figure('port.pitch', 'feedback lost')).toBe(0)
    expect(figure('port.pitch', 'feedback doubled')).toBe(0)
  })

  it('one more than were missing is doubled', () => {
    const { run, watch, figure } = watching('bus')
    run.stage('play').cycles(100, {
      feedback: (j, k) => (j !== 1 ? 0 : k === 50 ? null : k === 51 ? [0, 0, 0] : 0),
    })
    watch.close()
    expect(figure('port.pitch', 'feedback late')).toBeCloseTo(1 / 99, 9)
    expect(figure('port.pitch', 'feedback doubled')).toBeCloseTo(1 / 99, 9)
    expect(figure('port.pitch', 'feedback lost')).toBe(0)
  })

  it('leaves a gap without end, and what comes after a stop, to others', () => {
    const { run, findings, watch } = watching('bus')
    run
      .stage('play')
      .cycles(100, ALL)
      .cycles(
        50,
        changed(() => 0),
      )
    watch.close()
    expect(findings).toEqual([])
    const after = watching('bus')
    after.run
      .stage('play')
      .cycles(100, ALL)
      .stop()
      .cycles(
        50,
        changed(() => 0),
      )
      .cycles(50, ALL)
    after.watch.close()
    expect(after.findings).toEqual([])
  })

  it('warns once a bus of frames that the rig does not explain, and counts them', () => {
    const { run, findings, figure } = watching('bus')
    for (let i = 0; i < 3; i++) run.see({ kind: 'strange', t: i, bus: 0, id: 0x3a5 })
    expect(told(findings)).toEqual(['warning port-can strange frame'])
    expect(findings[0]!.says).toContain('3A5h')
    expect(figure('port-can', 'strange frames')).toBe(3)
  })
  it('fails and stops for a second sender, once an identifier, and again after a new start', () => {
    const { run, findings, figure } = watching('bus')
    run.stage('play')
    for (const id of [0x20b, 0x20b, 0x080]) run.see({ kind: 'foreign', t: run.t, bus: 1, id })
    expect(told(findings)).toEqual([
      'failure starboard-can second sender',
      'failure starboard-can second sender',
    ])
    expect(findings.map((f) => f.stop)).toEqual([1, 1])
    expect(findings[0]!.says).toContain('20Bh')
    expect(findings[1]!.says).toContain('080h')
    expect(figure('starboard-can', 'frames of a second sender')).toBe(3)
    run.stop().stage('stopping').see({ kind: 'foreign', t: run.t, bus: 1, id: 0x20b })
    expect(findings).toHaveLength(2)
    run.stage('setup').see({ kind: 'foreign', t: run.t, bus: 1, id: 0x20b })
    expect(findings).toHaveLength(3)
  })
})
