import { describe, expect, it } from 'vitest'
import type { ClearanceSettings } from '../../../src/files/rig.js'
import { PERIOD } from './rig.js'
import { NS, told, watching } from './transcript.js'

/**
 * Of the paper rig's arms, which hang down from (0, +-0.6, 0.3): a post across the port arm's plane 0.5 m below its base, 1 m
 * before it, and the craft's bottom, far below.
 */
const clearance: ClearanceSettings = {
  least: 0.05,
  warn: 0.1,
  base: 0.04,
  links: [0.01, 0.01, 0.01, 0.01, 0.01, 0.01],
  paddle: 0.02,
  keepOut: [
    {
      name: 'post',
      parts: [{ shape: 'capsule', from: [-0.3, 0.3, -0.2], to: [-0.3, 0.9, -0.2], radius: 0.02 }],
    },
    {
      name: 'bottom',
      parts: [{ shape: 'box', pose: { at: [0, 0, -3], turn: [0, 0, 0] }, size: [4, 2, 1], radius: 0 }],
    },
  ],
  leftOut: [],
}
/** The port arm's pitch by cycle; all else hangs down. */
const pitching = (pitch: (k: number) => number) => ({
  feedback: (j: number, k: number) => (j === 1 ? pitch(k) : 0),
})
/** m between post and shaft, which points at (-sin, -cos) of the pitch from the base: pitch up moves the blade aft. */
const toPost = (pitch: number): number => Math.abs(0.3 * Math.cos(pitch) - 0.5 * Math.sin(pitch)) - 0.04

describe('clearance watch', () => {
  it('is quiet where nothing is near, and says how near it was', () => {
    const { run, findings, watch, figure } = watching('clearance', { clearance })
    run.stage('approach').cycles(
      200,
      pitching((k) => 0.2 * Math.sin(k / 40)),
    )
    watch.close()
    expect(findings).toEqual([])
    expect(figure('', 'pairs watched')).toBeGreaterThan(20)
    // To a twentieth, as it is farther than the warning.
    const least = toPost(0.2)
    expect(figure('port', 'least distance to post')).toBeGreaterThan(least - 1e-9)
    expect(figure('port', 'least distance to post')).toBeLessThan(1.05 * least)
    expect(
      watch
        .figures()
        .filter((f) => f.limit !== null)
        .map((f) => f.limit),
    ).toContain(0.05)
    // The tip's stripes go down to 0.3 - 0.9 - a sixth of 0.16 m; the bottom's top is at -2.5.
    expect(figure('starboard', 'least distance to bottom')).toBeCloseTo(2.5 - 0.6 - 0.16 / 6, 6)
    // Both hang down, as far apart as the widest parts let them: the blades' stripes across.
    expect(figure('port', 'least distance to starboard')).toBeCloseTo(1.2 - 0.16, 6)
  })

  it('warns once, then fails once, and asks for a stop, at the sample that shows it', () => {
    const { run, findings, rig } = watching('clearance', { clearance })
    // From 0 at 0.1 rad/s towards the post, which it would touch at 0.46 rad.
    const at = (k: number): number => 0.1 * k * PERIOD
    run.stage('approach').cycles(900, pitching(at))
    expect(told(findings)).toEqual(['warning port distance', 'failure port distance'])
    const first = (limit: number): number => {
      let k = 0
      while (toPost(at(k)) >= limit) k++
      return k
    }
    // The last joint of the starboard arm completes the set.
    const end = 300_000 + 5 * 50_000
    expect(findings.map((f) => f.t - end)).toEqual([first(0.1) * NS, first(0.05) * NS])
    expect(findings.map((f) => f.limit)).toEqual([0.1, 0.05])
    expect(findings.map((f) => f.stop)).toEqual([null, rig.stop.category])
    expect(findings[1]!.value).toBeCloseTo(toPost(at(first(0.05))), 9)
    expect(findings[1]!.says).toContain('port.shaft came too near to post, at x -0.2')
  })

  it('finds what passes by between two samples', () => {
    const { run, findings, figure } = watching('clearance', { clearance })
    // Half a turn a second would be 16 mrad a sample: this arm leaps by 1.2 rad.
    run.stage('play').cycles(
      20,
      pitching(() => 0),
    )
    expect(findings).toEqual([])
    run.cycles(
      20,
      pitching(() => 1.2),
    )
    expect(toPost(1.2)).toBeGreaterThan(0.1)
    expect(told(findings)).toEqual(['failure port distance'])
    expect(figure('port', 'least distance to post')).toBeLessThan(0)
  })

  it('does not make up the way through a gap in the feedback', () => {
    const gap = (cycles: number) => {
      const watched = watching('clearance', { clearance })
      watched.run.stage('play').cycles(
        20,
        pitching(() => 0),
      )
      watched.run.cycles(cycles, { feedback: (j) => (j < 3 ? null : 0) })
      watched.run.cycles(
        20,
        pitching(() => 1.2),
      )
      return told(watched.findings)
    }
    expect(gap(5)).toEqual(['failure port distance'])
    expect(gap(12)).toEqual([])
  })

  it('goes on with the other arm when one falls silent', () => {
    const { run, findings } = watching('clearance', { clearance })
    run.stage('play').cycles(
      20,
      pitching(() => 0),
    )
    run.cycles(300, { feedback: (j, k) => (j >= 3 ? null : j === 1 ? 0.3 * (k - 20) * PERIOD : 0) })
    expect(told(findings)).toEqual(['warning port distance', 'failure port distance'])
  })

  it('takes the first of two frames of one SYNC', () => {
    const { run, findings } = watching('clearance', { clearance })
    run.stage('play').cycles(20, { feedback: (j) => (j === 1 ? [0, 0.5] : 0) })
    expect(findings).toEqual([])
  })

  it('says nothing of arms that are moved by hand before the approach, and begins there', () => {
    const { run, findings, figure } = watching('clearance', { clearance })
    run.stage('setup').cycles(
      50,
      pitching(() => 0.5),
    )
    run.stage('seed').cycles(
      50,
      pitching(() => 0.5),
    )
    expect(findings).toEqual([])
    expect(figure('', 'pairs watched')).toBe(0)
    run.stage('approach').cycles(
      1,
      pitching(() => 0.5),
    )
    expect(told(findings)).toEqual(['failure port distance'])
    // A new start-up: it is watched again from its approach on.
    run.stage('stopping').cycles(
      50,
      pitching(() => 0),
    )
    run.stage('setup').cycles(
      50,
      pitching(() => 0.5),
    )
    expect(findings).toHaveLength(1)
    run.stage('approach').cycles(
      10,
      pitching(() => 0.5),
    )
    expect(told(findings)).toEqual(['failure port distance', 'failure port distance'])
  })

  it('goes on after a stop: an arm may sink', () => {
    const { run, findings } = watching('clearance', { clearance })
    run
      .stage('play')
      .cycles(
        10,
        pitching(() => 0),
      )
      .stop()
      .stage('stopping')
    run
      .cycles(
        10,
        pitching(() => 0),
      )
      .stage('stopped')
    run.cycles(
      500,
      pitching((k) => 0.1 * Math.max(0, k - 20) * PERIOD + 0.25),
    )
    expect(told(findings)).toEqual(['warning port distance', 'failure port distance'])
  })

  it('tells both arms when they come near each other', () => {
    const { run, findings, watch } = watching('clearance', { clearance })
    // Both roll inwards until the blades are 80 mm apart.
    const roll = Math.asin((0.6 - 0.08 - 0.04) / 0.9)
    run
      .stage('play')
      .cycles(100, { feedback: (j, k) => (j === 0 ? -1 : j === 3 ? 1 : 0) * roll * Math.min(1, k / 90) })
    expect(told(findings)).toEqual(['warning port distance'])
    expect(findings[0]!.says).toMatch(
      /^port\.blade came too near to starboard\.blade, at x -?0(\.\d+)? m, y /,
    )
    const names = watch.figures().map((f) => `${f.place}, ${f.name}`)
    expect(names).toContain('port, least distance to starboard')
    expect(names.some((n) => /^port\.blade, nearest to starboard (at|off)/.test(n))).toBe(true)
    expect(names.some((n) => /^starboard\.blade, nearest to port (at|off)/.test(n))).toBe(true)
  })

  it('says how far an arm was from its stroke, when it was not on it', () => {
    const { run, figure } = watching('clearance', { clearance })
    // The blades go on lines at y = 1, these are at 0.6.
    run.stage('play').cycles(
      10,
      pitching(() => 0.1),
    )
    expect(figure('port.shaft', 'nearest to post off the stroke by')).toBeGreaterThan(0.4)
  })

  it('counts nothing where the rig says nothing', () => {
    const { run, findings, watch } = watching('clearance')
    run.stage('play').cycles(
      100,
      pitching((k) => k),
    )
    watch.close()
    expect(findings).toEqual([])
    expect(watch.figures()).toEqual([
      { place: '', name: 'pairs watched', value: 0, unit: 'count', limit: null },
    ])
  })

  it('doubts a way that was too long to follow', () => {
    const { run, findings, watch, figure } = watching('clearance', { clearance })
    const leaping = { feedback: (j: number, k: number) => 5000 * Math.sin(7 * k + j) }
    run.stage('play').cycles(10, leaping)
    watch.close()
    expect(told(findings)).toContain('doubt  motions not followed to their end')
    expect(figure('', 'motions not followed to their end')).toBeGreaterThan(0)
  })
})
