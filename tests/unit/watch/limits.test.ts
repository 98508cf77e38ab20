import { describe, expect, it } from 'vitest'
import { watchComplaints } from '../../../src/watch/all.js'
import { PERIOD, rig } from './rig.js'
import { type Transcript, told, watching } from './transcript.js'

const AT_REST = { feedback: () => 0 }
/** One joint moves, the others rest. */
const moving = (joint: number, path: (s: number) => number) => ({
  feedback: (j: number, k: number) => (j === joint ? path(k * PERIOD) : 0),
})

describe('limits watch', () => {
  it('is quiet for motion inside all margins, and states its peaks', () => {
    const { run, findings, figure } = watching('limits')
    // 0.4 rad at 5 rad/s: peaks 2 rad/s and 10 rad/s2.
    run
      .stage('approach')
      .stage('play')
      .cycles(
        1000,
        moving(1, (s) => 0.4 * Math.sin(5 * s)),
      )
    expect(findings).toEqual([])
    // The fits smooth a little: less than 0.1 % and 1 % here.
    expect(figure('port.pitch', 'peak speed')).toBeCloseTo(2, 2)
    expect(figure('port.pitch', 'peak acceleration')).toBeGreaterThan(9.8)
    expect(figure('port.pitch', 'peak acceleration')).toBeLessThan(10.01)
    expect(figure('port.pitch', 'highest position')).toBeCloseTo(0.4, 4)
    expect(figure('', 'delay of speed')).toBeCloseTo(PERIOD, 12)
    expect(figure('', 'delay of acceleration')).toBeCloseTo(4 * PERIOD, 12)
  })

  it('finds a position beyond its limit with the very feedback that shows it, in any stage', () => {
    const { run, findings } = watching('limits')
    run.cycles(10, AT_REST)
    const since = run.t
    run.cycles(
      1,
      moving(4, () => -1.501),
    )
    expect(findings).toEqual([
      expect.objectContaining({
        severity: 'failure',
        place: 'starboard.pitch',
        quantity: 'position',
        value: -1.501,
        limit: -1.5,
        unit: 'rad',
        stop: 1,
        t: since + 500_000,
      }),
    ])
    run.cycles(
      5,
      moving(4, () => -1.6),
    )
    expect(findings).toHaveLength(1)
  })

  it('warns once from nine tenths of half the range on', () => {
    const { run, findings } = watching('limits')
    run.cycles(
      1,
      moving(0, () => 1.349),
    )
    expect(findings).toEqual([])
    run.cycles(
      200,
      moving(0, (s) => 1.36 + 0.02 * Math.sin(40 * s)),
    )
    expect(told(findings)).toEqual(['warning port.roll position'])
    expect(findings[0]!.stop).toBeNull()
  })

  it('finds a speed beyond its limit within three samples', () => {
    const { run, findings } = watching('limits')
    run.stage('play').cycles(100, AT_REST)
    const since = run.t
    run.cycles(3, { feedback: (j, k) => (j === 2 ? 3.3 * (k - 99) * PERIOD : 0) })
    expect(told(findings.filter((f) => f.quantity === 'speed'))).toEqual(['failure port.feather speed'])
    const found = findings.find((f) => f.quantity === 'speed')!
    expect(found.value).toBeCloseTo(3.3, 6)
    expect(found.limit).toBe(3)
    expect(found.t).toBeLessThan(since + 2 * PERIOD * 1e9)
  })

  it('finds an acceleration beyond its limit, and warns of one close to it', () => {
    const { run, findings } = watching('limits', { limits: { speed: 100, lower: -100, upper: 100 } })
    const accelerating = (a: number) => moving(3, (s) => 0.5 * a * s * s)
    run.stage('play').cycles(40, accelerating(22))
    expect(findings).toEqual([])
    const near = watching('limits', { limits: { speed: 100, lower: -100, upper: 100 } })
    near.run.stage('play').cycles(40, accelerating(24))
    expect(told(near.findings)).toEqual(['warning starboard.roll acceleration'])
    const beyond = watching('limits', { limits: { speed: 100, lower: -100, upper: 100 } })
    beyond.run.stage('play').cycles(40, accelerating(26.5))
    expect(told(beyond.findings)).toEqual(['failure starboard.roll acceleration'])
    expect(beyond.findings[0]!.value).toBeCloseTo(26.5, 5)
  })

  it('does not mind unpowered arms being moved fast by hand', () => {
    const { run, findings } = watching('limits')
    const byHand = moving(0, (s) => Math.sin(6 * s))
    run
      .stage('setup')
      .cycles(100, byHand)
      .stage('seed')
      .cycles(100, byHand)
      .stage('enable')
      .cycles(100, byHand)
    expect(findings).toEqual([])
    run.stage('play').cycles(200, byHand)
    expect(told(findings)).toContain('failure port.roll speed')
  })

  it('starts its fits anew after a gap instead of taking it for speed', () => {
    const { run, findings } = watching('limits')
    const path = moving(0, (s) => 2 * s - 0.9)
    run.stage('play').cycles(20, path).cycles(5, {}).cycles(20, path)
    expect(findings).toEqual([])
  })

  it('takes no doubled frame for standstill', () => {
    const { run, figure, findings } = watching('limits')
    run.stage('play').cycles(50, { feedback: (_, k) => [2 * k * PERIOD, 2 * k * PERIOD] })
    expect(findings).toEqual([])
    expect(figure('port.roll', 'peak speed')).toBeCloseTo(2, 9)
    expect(figure('port.roll', 'peak acceleration')).toBeLessThan(1e-6)
  })

  it('lets a quick stop slow down as hard as it can, but not speed up', () => {
    const { run, findings, figure } = watching('limits')
    const speed = 1.2
    run.stage('play').cycles(100, { feedback: (j, k) => (j === 0 ? speed * (k - 100) * PERIOD : 0) })
    run.stop().stage('stopping')
    // 60 rad/s2 down to rest: more than twice the limit.
    const slowing = (s: number): number => (s < speed / 60 ? speed * s - 30 * s * s : (speed * speed) / 120)
    run.cycles(100, { feedback: (j, k) => (j === 0 ? slowing((k - 100) * PERIOD) : 0) })
    expect(findings).toEqual([])
    expect(figure('port.roll', 'peak deceleration in a stop')).toBeGreaterThan(26)
    const rest = (speed * speed) / 120
    run.cycles(6, { feedback: (j, k) => (j === 0 ? rest + 20 * ((k - 200) * PERIOD) ** 2 : 0) })
    run.cycles(6, { feedback: (j, k) => (j === 0 ? rest + 20 * ((k - 200) * PERIOD) ** 2 : 0) })
    expect(told(findings)).toContain('failure port.roll acceleration')
  })

  it('doubts what encoder noise hides, and refuses a limit below the noise', () => {
    // 2000 counts a turn: a count is 3.1 mrad, its noise through nine samples far more than a quarter of 26 rad/s2.
    const coarse = { counts: 2000 / (2 * Math.PI), noise: 0 }
    const { run, findings, figure } = watching('limits', coarse)
    run.stage('setup').stage('seed')
    expect(findings).toHaveLength(6)
    expect(findings[0]).toMatchObject({
      severity: 'doubt',
      quantity: 'noise floor of acceleration',
      limit: 6.5,
    })
    // 4 sigma x (count/sqrt 12) x 2/(T^2 sqrt(n (n^2-1)(n^2-4)/180)), n = 9, by hand.
    const byHand =
      (4 * ((2 * Math.PI) / 2000 / Math.sqrt(12)) * 2) / (PERIOD ** 2 * Math.sqrt((9 * 80 * 77) / 180))
    expect(figure('port.roll', 'noise floor of acceleration')).toBeCloseTo(byHand, 9)
    expect(watchComplaints(rig(coarse))).toEqual([])

    const hidden = rig({ ...coarse, limits: { acceleration: byHand * 0.99 } })
    const complaints = watchComplaints(hidden)
    expect(complaints).toHaveLength(6)
    expect(complaints.at(-1)).toMatchObject({
      path: ['arms', 1, 'joints', 2, 'limits', 'acceleration'],
      expected: expect.stringContaining('noise floor'),
    })
    expect(watchComplaints(rig({ ...coarse, limits: { acceleration: byHand * 1.01 } }))).toEqual([])
  })

  it('has a noise floor that noise keeps', () => {
    const { run, figure, findings } = watching('limits')
    // Encoder noise of one count, worst of 20,000 samples: a few sigma of the stated four.
    const count = (2 * Math.PI) / 131072
    let seed = 1
    const noise = (): number => {
      let sum = 0
      for (let i = 0; i < 12; i++) {
        seed = (Math.imul(seed, 1103515245) + 12345) & 0x7fffffff
        sum += seed / 0x7fffffff
      }
      return Math.round(sum - 6) * count
    }
    run.stage('play').cycles(4000, { feedback: (j) => (j === 0 ? noise() : 0) })
    expect(findings).toEqual([])
    const peak = figure('port.roll', 'peak acceleration')
    const floor = figure('port.roll', 'noise floor of acceleration')
    expect(peak).toBeGreaterThan(0.6 * floor)
    expect(peak).toBeLessThan(1.25 * floor)
  })
})

describe('before the approach', () => {
  const DEG = Math.PI / 180
  const follows = (run: Transcript, joint: number, yes = true): Transcript =>
    run.see({ kind: 'state', t: run.t, joint, state: 'operation enabled', follows: yes, word: 0x1637 })
  const jump = (deg: number) => ({ feedback: (j: number) => (j === 2 ? 0.3 + deg * DEG : 0) })

  it('finds a held joint that moves by more than the band, and stops', () => {
    const { run, findings, figure } = watching('limits')
    run.stage('seed').cycles(20, jump(0)).stage('enable').cycles(10, jump(0))
    follows(run, 2).cycles(10, jump(0.85))
    expect(findings).toEqual([])
    run.cycles(1, jump(1.1)).cycles(10, jump(3))
    expect(told(findings)).toEqual(['failure port.feather motion before the approach'])
    expect(findings[0]).toMatchObject({ stop: 1, value: expect.closeTo(1.1 * DEG, 9) })
    expect(figure('port.feather', 'motion before the approach')).toBeCloseTo(3 * DEG, 9)
  })

  it('takes the band from the rig', () => {
    const { run, findings } = watching('limits', { watch: { limits: { held: '4 deg' } } })
    follows(run.stage('enable').cycles(10, jump(0)), 2).cycles(10, jump(3))
    expect(findings).toEqual([])
  })

  it('does not judge a joint that does not follow yet, nor from the approach on', () => {
    const { run, findings } = watching('limits')
    run.stage('enable').cycles(10, jump(0))
    // Bit 12 means something in operation enabled only.
    run.see({ kind: 'state', t: run.t, joint: 2, state: 'switched on', follows: true, word: 0x1633 })
    run.cycles(10, jump(8))
    // Follows from here; what it fell before is forgotten.
    follows(run, 2).cycles(10, jump(8)).stage('approach')
    for (let deg = 8; deg < 12; deg += 0.5) run.cycles(1, jump(deg))
    expect(findings).toEqual([])
  })

  it('begins anew in a new start', () => {
    const { run, findings } = watching('limits')
    follows(run.stage('enable').cycles(10, jump(0)), 2)
      .stage('play')
      .stop()
    follows(run, 2, false).stage('seed').cycles(10, jump(10)).stage('enable')
    follows(run, 2).cycles(10, jump(10.2))
    expect(findings).toEqual([])
    run.cycles(1, jump(12))
    expect(told(findings)).toEqual(['failure port.feather motion before the approach'])
  })
})

describe('watch settings against the rig', () => {
  it('lists every senseless setting at once', () => {
    const watch = {
      tracking: { lag: { set: { 'port.roll': '80 ms' } } },
      bus: { load: { warning: '90 %' } },
    }
    expect(watchComplaints(rig({ watch }))).toMatchObject([
      { path: ['watch', 'tracking', 'lag', 'set', 'port.roll'], found: 'a lag of 80 ms' },
      { path: ['watch', 'bus', 'load'] },
    ])
  })
})

describe('limits watch, answers that come after the next SYNC', () => {
  /** rad/s, a third of the limit */
  const SPEED = 1
  const position = (k: number): number => -1 + SPEED * PERIOD * k
  /** Of joint 1; `late` SYNCs are answered only after the next one. */
  const straddling = (late: (k: number) => boolean) => ({
    feedback: (j: number, k: number) => {
      if (j !== 1) return 0
      const own = late(k) ? [] : [position(k)]
      return late(k - 1) ? [position(k - 1), ...own] : own.length > 0 ? own : null
    },
  })

  it('make neither speed nor acceleration', () => {
    const { run, findings, figure, watch } = watching('limits')
    run.stage('play').cycles(
      300,
      straddling((k) => k % 50 === 25),
    )
    watch.close()
    expect(findings).toEqual([])
    expect(figure('port.pitch', 'peak speed')).toBeCloseTo(SPEED, 9)
    expect(figure('port.pitch', 'peak acceleration')).toBeCloseTo(0, 6)
  })

  it('leave a doubt when there is hardly ever a speed', () => {
    const { run, findings, watch } = watching('limits')
    run.stage('play').cycles(
      300,
      straddling((k) => k % 3 === 1),
    )
    watch.close()
    expect(told(findings)).toEqual(['doubt port.pitch feedback that made a speed'])
    expect(findings[0]!.value).toBeLessThan(0.5)
  })

  it('or lost ones: doubled frames alone do no harm', () => {
    const { run, findings, watch, figure } = watching('limits')
    run.stage('play').cycles(300, {
      feedback: (j, k) => (j === 1 ? [position(k), position(k)] : 0),
    })
    watch.close()
    expect(findings).toEqual([])
    expect(figure('port.pitch', 'peak speed')).toBeCloseTo(SPEED, 9)
  })
})

describe('limits watch, beside the setpoints', () => {
  /** 0.4 rad at 8 rad/s: 3.2 rad/s and 25.6 rad/s2, beyond the speed limit of 3 rad/s. */
  const measured = (k: number): number => 0.4 * Math.sin(8 * k * PERIOD)
  const found = (share: number | null) => {
    const { run, findings } = watching('limits')
    const setpoint = (j: number, k: number) => (j === 1 && share !== null ? share * measured(k) : null)
    run.stage('play').cycles(300, { setpoint, feedback: (j, k) => (j === 1 ? measured(k) : 0) })
    return findings.find((f) => f.severity === 'failure' && f.quantity === 'speed')!
  }

  it.each([1, 0.7, null])('says no more where they asked for %s times as much, or none was seen', (share) => {
    expect(found(share).says).toBe('The speed went beyond its limit.')
    expect(found(share).look).toContain('Look at the setpoints')
  })

  it('says what they asked for where that was much less, and sends nobody to look at them', () => {
    const { says, look } = found(0.5)
    // Half of 3.2 rad/s is 91.7 deg/s; setpoints 5 ms apart make a little less.
    expect(says).toBe('The speed went beyond its limit, and the setpoints before it asked for 91.6 deg/s.')
    expect(look).toContain('Look at this joint itself')
  })

  it('a joint that is held and jumps was asked for nothing', () => {
    const { run, findings } = watching('limits')
    run.stage('play').cycles(100, { setpoint: () => 0.1, feedback: () => 0.1 })
    run.cycles(10, { setpoint: () => 0.1, feedback: (j) => (j === 1 ? 0.13 : 0.1) })
    expect(findings.find((f) => f.quantity === 'acceleration')!.says).toMatch(/asked for 0 deg\/s2\.$/)
  })
})
