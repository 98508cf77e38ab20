import { describe, expect, it } from 'vitest'
import { PERIOD } from './rig.js'
import { NS, type Transcript, told, watching } from './transcript.js'

const DEG = Math.PI / 180
/** Of the test rig: 131072 a turn, sign by joint, zero 1200. */
const PER_RADIAN = 131072 / (2 * Math.PI)
const ZERO = 1200
const signOf = (j: number): number => (j % 3 === 1 ? -1 : 1)
/** rad, as a drive reports it: whole counts. */
const whole = (j: number, q: number): number =>
  (signOf(j) * (Math.round(signOf(j) * q * PER_RADIAN + ZERO) - ZERO)) / PER_RADIAN
const countsOf = (j: number, q: number): number => Math.round(signOf(j) * q * PER_RADIAN + ZERO)
const read = (j: number, counts: number): number => (signOf(j) * (counts - ZERO)) / PER_RADIAN

/** rad: every joint has a place and a way of its own. */
const place = (j: number): number => [0.3, -0.2, 0.5, -0.35, 0.15, 0.62][j]!
const way = (j: number, s: number): number => place(j) + 0.25 * (1 - Math.cos((1 + 0.3 * j) * Math.max(0, s)))
/** s by which the joints are behind their setpoints, besides the period of interpolation */
const LAG = 0.012

type Broken = (j: number, good: number, k: number) => number

/** A joint follows its way; its setpoint is sent two periods ahead of the SYNC at which it is reached. */
function moving(run: Transcript, broken: Broken = (_, good) => good, { eye = true, lag = LAG } = {}) {
  const from = run.k
  const truth = (j: number, k: number): number => way(j, (k - from) * PERIOD - lag)
  return {
    setpoint: (j: number, k: number) => whole(j, way(j, (k + 2 - from) * PERIOD)),
    feedback: (j: number, k: number) => broken(j, whole(j, truth(j, k) + 2e-5 * Math.sin(7 * k + j)), k),
    witness: eye ? truth : null,
  }
}

describe('feedback watch, on good arms', () => {
  it.each([0, 0.012, 0.05])('is quiet with a lag of %d s, with and without an eye', (lag) => {
    for (const eye of [true, false]) {
      const { run, findings, watch, figure } = watching('feedback')
      run.stage('play').cycles(1500, moving(run, undefined, { eye, lag }))
      watch.close()
      expect(findings).toEqual([])
      expect(figure('port.roll', 'scale of feedback to setpoints, off by')).toBeLessThan(0.002)
    }
  })

  it('measures scale and offset against the truth', () => {
    const { run, figure } = watching('feedback')
    run.stage('play').cycles(
      1500,
      moving(run, (j, q) => (j === 2 ? 1.01 * q + 0.004 : q)),
    )
    expect(figure('port.feather', 'scale of feedback to the truth, off by')).toBeCloseTo(0.01, 4)
    expect(figure('port.roll', 'feedback beside the truth, mean')).toBeLessThan(1e-3)
  })
})

describe('feedback watch, against the true position', () => {
  it.each<[string, Broken, string, RegExp]>([
    ['a wrong sign', (_, q) => -q, 'feedback sign', /goes against its true position/],
    ['degrees for radians', (_, q) => 57.29578 * q, 'feedback scale', /57\.3 times.*degrees were taken/],
    ['radians for degrees', (_, q) => 0.01745329 * q, 'feedback scale', /radians were taken for degrees/],
    ['half the counts a turn', (_, q) => 2 * q, 'feedback scale', /a power of two/],
    ['a turn too many', (_, q) => q + 2 * Math.PI, 'feedback offset', /1 whole turn /],
    ['a wrong zero', (_, q) => q + 0.1, 'feedback offset', /5\.73 deg beside/],
  ])('at rest, at once: %s', (_, wrong, quantity, says) => {
    const { run, findings } = watching('feedback')
    const still = (j: number): number => place(j)
    run.cycles(3, { witness: still })
    const since = run.t
    run.stage('seed').cycles(20, {
      witness: still,
      feedback: (j) => (j === 4 ? wrong(j, still(j), 0) : whole(j, still(j))),
    })
    expect(told(findings)).toEqual([`failure starboard.pitch ${quantity}`])
    expect(findings[0]!.says).toMatch(says)
    expect(findings[0]!.stop).toBe(1)
    // 20 ms (tracking.timeout), and the tick after.
    expect(findings[0]!.t - since).toBe(5 * NS)
  })

  it.each<[string, Broken, string, RegExp]>([
    ['a wrong sign', (_, q) => -q, 'feedback sign', /-1 times/],
    ['a scale of no known kind', (_, q) => 1.3 * q, 'feedback scale', /1\.3 times/],
    ['radians for degrees', (_, q) => 0.01745329 * q, 'feedback scale', /0\.017 times.*radians were taken/],
  ])('in motion: %s', (_, wrong, quantity, says) => {
    const { run, findings } = watching('feedback', { watch: { sense: { witness: '4 deg' } } })
    // Wrong from the beginning, and near zero too small to be seen: it comes to light as the joint moves.
    const from = run.k
    const truth = (k: number): number => 0.5 * Math.sin((k - from) * PERIOD)
    run.stage('play').cycles(600, {
      witness: (j, k) => (j === 4 ? truth(k) : place(j)),
      feedback: (j, k) => (j === 4 ? wrong(j, truth(k), k) : whole(j, place(j))),
    })
    expect(told(findings)).toEqual([`failure starboard.pitch ${quantity}`])
    expect(findings[0]!.says).toMatch(says)
  })

  it('names the joint whose encoder it is, whatever the two bindings make of its counts', () => {
    const { run, findings } = watching('feedback')
    // port.pitch and starboard.feather have exchanged their plugs: counts of one are read by the binding of the other.
    const swapped: Broken = (j) => {
      const other = j === 1 ? 5 : 1
      return read(j, countsOf(other, place(other)))
    }
    run.stage('seed').cycles(20, {
      witness: (j) => place(j),
      feedback: (j, k) => (j === 1 || j === 5 ? swapped(j, 0, k) : whole(j, place(j))),
    })
    expect(told(findings)).toEqual([
      'failure port.pitch feedback of another joint',
      'failure starboard.feather feedback of another joint',
    ])
    expect(findings[0]!.says).toBe('The feedback of port.pitch tells where starboard.feather truly is.')
  })

  it('tells two swapped arms from two swapped joints', () => {
    const { run, findings } = watching('feedback')
    run.stage('seed').cycles(20, {
      witness: (j) => place(j),
      feedback: (j) => whole(j, place((j + 3) % 6)),
    })
    expect(told(findings)).toEqual([
      'failure port feedback of another arm',
      'failure starboard feedback of another arm',
    ])
    expect(findings[0]!.says).toMatch(/the port arm is that of the starboard arm/)
  })

  it('says nothing of an encoder that stands while the joint moves: it is like nothing', () => {
    const { run, findings } = watching('feedback')
    const play = moving(run)
    run.stage('play').cycles(200, play)
    const stood = play.feedback(0, run.k)
    run.cycles(200, { ...play, feedback: (j, k) => (j === 0 ? stood : play.feedback(j, k)) })
    expect(findings).toEqual([])
  })

  it('an encoder that stood still and a joint that sinks behind it after the stop: nothing is said of its zero', () => {
    const { run, findings } = watching('feedback')
    const play = moving(run)
    run.stage('play').cycles(200, play)
    const at = play.feedback(0, run.k)
    const { witness } = play
    const from = run.k
    run
      .stop()
      .stage('stopping')
      .cycles(400, {
        feedback: (j) => (j === 0 ? at : whole(j, witness!(j, from))),
        witness: (j, k) => (j === 0 ? at - Math.min(0.1, 0.002 * (k - from)) : witness!(j, from)),
      })
    expect(findings).toEqual([])
  })

  it('finds a scale of 3 % and a zero of 0.8 deg over the run, too small to stop for', () => {
    const { run, findings, watch } = watching('feedback')
    run.stage('play').cycles(
      1500,
      moving(run, (j, q) => (j === 0 ? 0.97 * q : j === 4 ? q + 0.8 * DEG : q)),
    )
    // The scale is told after four seconds; a zero comes of the mean of all.
    expect(told(findings)).toEqual(['failure port.roll feedback scale, off by'])
    expect(findings[0]!.t).toBe(800 * NS)
    watch.close()
    expect(told(findings)).toEqual([
      'failure port.roll feedback scale, off by',
      'failure starboard.pitch feedback offset',
    ])
    expect(findings[0]!.value).toBeCloseTo(0.03, 3)
    expect(findings[1]!.value).toBeCloseTo(0.8 * DEG, 3)
    expect(findings.every((f) => f.stop === null)).toBe(true)
  })
})

describe('feedback watch, on arms that nobody sees', () => {
  const blind = { eye: false }

  it('feedback that follows the setpoint of another joint', () => {
    const { run, findings } = watching('feedback')
    const good = moving(run, undefined, blind)
    run.stage('play').cycles(400, {
      ...good,
      feedback: (j, k) => (j === 2 ? read(2, countsOf(0, good.feedback(0, k))) : good.feedback(j, k)),
    })
    expect(told(findings)).toEqual(['failure port.feather feedback of another joint'])
    expect(findings[0]!.says).toBe('The feedback of port.feather follows the setpoint of port.roll.')
  })

  it.each<[string, Broken, string]>([
    ['a sign that only feedback has', (_, q) => -q, 'feedback sign'],
    ['a scale that only feedback has', (_, q) => 2 * q, 'feedback scale'],
    ['a zero that only feedback has', (_, q) => q + 0.2, 'feedback offset'],
    ['a turn too many', (_, q) => q - 2 * Math.PI, 'feedback offset'],
  ])('%s', (_, wrong, quantity) => {
    const { run, findings } = watching('feedback')
    const good = moving(run, undefined, blind)
    // It has moved a while before anybody is held to setpoints, as in an approach that began at the measured position.
    run.stage('approach').cycles(400, {
      ...good,
      feedback: (j, k) => (j === 3 ? wrong(j, good.feedback(j, k), k) : good.feedback(j, k)),
    })
    const first = findings.filter((f) => f.quantity === quantity)
    expect(first.map((f) => f.place)).toEqual(['starboard.roll'])
  })

  it('what setpoints and feedback share hides: a sign that both have', () => {
    const { run, findings, watch } = watching('feedback')
    const good = moving(run, undefined, blind)
    run.stage('play').cycles(1500, {
      ...good,
      setpoint: (j, k) => -good.setpoint(j, k),
      feedback: (j, k) => -good.feedback(j, k),
    })
    watch.close()
    expect(findings).toEqual([])
  })

  it('a jammed joint is like nothing', () => {
    const { run, findings } = watching('feedback')
    const good = moving(run, undefined, blind)
    run.stage('play').cycles(300, good)
    const at = good.feedback(0, run.k)
    run.cycles(300, { ...good, feedback: (j, k) => (j === 0 ? at : good.feedback(j, k)) })
    expect(findings).toEqual([])
  })

  it('a scale of 12 % that slips under the window is a suspicion at the end', () => {
    const { run, findings, watch } = watching('feedback', { watch: { tracking: { window: '6 deg' } } })
    run.stage('play').cycles(
      1500,
      moving(run, (j, q) => (j === 5 ? place(5) + 1.3 * (q - place(5)) : q), blind),
    )
    watch.close()
    expect(findings.filter((f) => f.place !== 'starboard.feather')).toEqual([])
  })
})

describe('feedback watch, echo', () => {
  it.each([
    ['at the same SYNC', 0],
    ['a SYNC later', 1],
    ['as soon as a perfect motor', 2],
    ['a period behind it', 3],
  ])('setpoints that come back %s', (_, late) => {
    const { run, findings } = watching('feedback')
    const good = moving(run, undefined, { eye: false })
    run.stage('play').cycles(20, good)
    const since = run.t
    run.cycles(600, {
      ...good,
      // The setpoint sent in cycle k has index k + 1.
      feedback: (j, k) => (j === 1 ? good.setpoint(1, k - late) : good.feedback(j, k)),
    })
    expect(told(findings)).toEqual(['failure port.pitch samples of feedback that are the setpoint'])
    expect(findings[0]!.stop).toBe(1)
    expect((findings[0]!.t - since) / 1e9).toBeLessThan(late < 2 ? 0.4 : 3)
  })

  it('a joint without noise that is led at an even speed, as no echo', () => {
    const { run, findings } = watching('feedback')
    const from = run.k
    // Full feed-forward: at an even speed such a loop has no error at all.
    const ramp = (k: number): number => whole(0, 0.2 * (k - from) * PERIOD - 0.5)
    run.stage('play').cycles(900, { setpoint: (_, k) => ramp(k + 2), feedback: (_, k) => ramp(k) })
    expect(findings).toEqual([])
  })

  it('a joint at rest, as no echo', () => {
    const { run, findings } = watching('feedback')
    run.stage('play').cycles(900, { setpoint: () => 0, feedback: () => 0 })
    expect(findings).toEqual([])
  })
})

describe('feedback watch, leaps', () => {
  it.each([
    [2 ** 16, /2\^16 counts/],
    [-(2 ** 20), /2\^20 counts/],
    [3 * 2 ** 16, /3 x 2\^16 counts/],
    [131072, /2\^17 counts, 1 whole turn \(of 2 pi\)/],
    [30000, /by 30\d\d\d counts from one frame to the next\.$/],
  ])('of %d counts, with the first frame that shows it', (counts, says) => {
    const { run, findings } = watching('feedback')
    const good = moving(run, undefined, { eye: false })
    run.stage('play').cycles(200, good)
    const since = run.t
    run.cycles(1, {
      ...good,
      feedback: (j, k) => good.feedback(j, k) + (j === 3 ? counts / PER_RADIAN : 0),
    })
    expect(told(findings)).toEqual(['failure starboard.roll leap of feedback'])
    expect(findings[0]!.says).toMatch(says)
    expect(findings[0]!.t).toBe(since + 300_000 + 3 * 50_000)
    expect(findings[0]!.stop).toBe(1)
  })

  it('bears lost, late and bunched frames at the speed limit, and an arm moved by hand', () => {
    const { run, findings } = watching('feedback', { limits: { lower: -9, upper: 9 } })
    const fast = (k: number): number => 3 * k * PERIOD
    run.stage('setup').cycles(100, { feedback: (j, k) => (k % 9 === j ? null : whole(j, fast(k))) })
    // Nothing for three periods, then what was meant for them all at once.
    run.cycles(3, {}).cycles(50, { feedback: (j, k) => [-2, -1, 0].map((i) => whole(j, fast(k + i))) })
    expect(findings).toEqual([])
  })
})

describe('feedback watch, kinks', () => {
  // 1.2 rad/s to and fro, 6 rad/s2 at the turns: within what the test rig's joints may do.
  const there = (s: number): number => 0.24 * Math.sin(5 * s)
  /** Joint 0 moves; from cycle `at` on its feedback is what `broken` makes of it. */
  const kinking = (at: number, broken: (good: number, k: number, before: number) => number) => {
    const noise = (k: number): number => 2e-5 * Math.sin(7 * k)
    const truth = (k: number): number => there(Math.max(0, k - 2) * PERIOD)
    return {
      setpoint: (j: number, k: number) => (j === 0 ? whole(0, there((k + 2) * PERIOD)) : 0),
      feedback: (j: number, k: number) => {
        if (j !== 0) return 0
        const good = truth(k) + noise(k)
        return whole(0, k < at ? good : broken(good, k, truth(at)))
      },
    }
  }
  /** 5 x 0.63 s = pi: it passes the middle at full speed. */
  const FAST = 126 + 2
  /** 5 x 0.314 s = pi/2: it turns. */
  const TURN = 63 + 2

  it.each<[string, (good: number, k: number, before: number) => number, string | null]>([
    [
      'stands still out of motion',
      (_, k, before) => before + 2e-5 * Math.sin(7 * k),
      'standstill of feedback',
    ],
    ['turns round out of motion', (good, _, before) => 2 * before - good, 'feedback sign'],
    ['jumps to and fro', (good, k) => good + (k % 2 ? 0.004 : -0.004), 'noise of feedback'],
    ['jumps by less than the acceleration limit makes', (good, k) => good + (k % 2 ? 1e-4 : -1e-4), null],
    ['leaps by a little, once', (good) => good + 0.02, null],
    ['trembles at 17 Hz', (good, k) => good + 0.002 * Math.sin(2 * Math.PI * 17 * k * PERIOD), null],
  ])('%s: told at once or not at all', (_, broken, quantity) => {
    const { run, findings } = watching('feedback')
    run.stage('play').cycles(FAST, kinking(FAST, broken))
    expect(findings).toEqual([])
    run.cycles(8, kinking(FAST, broken))
    expect(findings.map((f) => [f.place, f.quantity, f.stop])).toEqual(
      quantity === null ? [] : [['port.roll', quantity, 1]],
    )
    for (const found of findings) expect(found.value).toBeGreaterThan(found.limit)
  })

  it('the speed out of which it stood is that of the joint', () => {
    const { run, findings } = watching('feedback')
    run.stage('play').cycles(
      FAST + 6,
      kinking(FAST, (_, __, before) => before),
    )
    // 0.24 rad x 5/s
    expect(findings[0]!.value).toBeCloseTo(1.2, 1)
    expect(findings[0]!.says).toContain('stood still from one frame to the next')
  })

  it('a joint that stops for its turn is none', () => {
    const { run, findings } = watching('feedback')
    run.stage('play').cycles(
      TURN + 4,
      kinking(TURN, (_, __, before) => before),
    )
    expect(findings).toEqual([])
  })

  it('is confirmed when limits have stopped the run meanwhile; what begins later than that is the stop', () => {
    for (const [late, count] of [
      [0, 1],
      [5, 0],
    ] as const) {
      const { run, findings } = watching('feedback')
      const path = kinking(FAST + late, (_, __, before) => before)
      run
        .stage('play')
        .cycles(FAST + 1, path)
        .stop('limits')
        .cycles(10, { feedback: path.feedback })
      expect(findings).toHaveLength(count)
    }
  })

  it('frames that were lost, or that came late, begin it anew', () => {
    const { run, findings } = watching('feedback')
    const path = kinking(FAST, (_, __, before) => before)
    run.stage('play').cycles(FAST, path)
    run.cycles(1, { ...path, feedback: () => null })
    run.cycles(10, path)
    expect(findings).toEqual([])
  })

  it('after a stop, a joint that comes to rest where its last setpoint was is no echo', () => {
    const path = kinking(FAST + 1, (good) => good)
    const last = path.setpoint(0, FAST)
    const way = last - path.setpoint(0, FAST - 1)
    for (const behind of [2, 1, 0]) {
      const { run, findings } = watching('feedback')
      run
        .stage('play')
        .cycles(FAST + 1, path)
        .stop('limits')
      const stopped = run.k
      // Behind by some periods it slows to rest there; without a lag it runs on beyond, and is turned back.
      const off = [-behind * way, behind === 0 ? way / 2 : (-behind * way) / 4, 0, 0, 0, 0, 0, 0]
      run.cycles(8, { feedback: (j: number, k: number) => (j === 0 ? last + off[k - stopped]! : 0) })
      expect(findings.filter((f) => f.quantity.startsWith('samples of feedback'))).toEqual([])
    }
  })

  it('after a stop, feedback that is the last setpoint is an echo; a joint at rest there is none', () => {
    const path = kinking(FAST + 1, (good) => good)
    for (const [cycles, count] of [
      [FAST + 1, 1],
      [TURN + 1, 0],
    ] as const) {
      const { run, findings } = watching('feedback')
      const feedback = (j: number) => (j === 0 ? path.setpoint(0, cycles - 1) : 0)
      run.stage('play').cycles(cycles, path).stop('limits').cycles(6, { feedback })
      expect(findings.map((f) => f.quantity)).toEqual(
        Array(count).fill('samples of feedback that are the setpoint'),
      )
    }
  })
})
