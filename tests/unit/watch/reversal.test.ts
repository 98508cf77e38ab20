/** The reversal watch on joints that have play in front of their encoder, behind it, or none. */
import { describe, expect, it } from 'vitest'
import { change } from '../../setup/runs.js'
import { type Drive, driven } from './driven.js'
import { told, watching } from './transcript.js'

const SERVO = { frequency: 12, damping: 0.8, feedforward: 0.5 }
const DEG = Math.PI / 180
const play = (more: Partial<Drive>) =>
  driven('reversal', { orders: [{ at: 0.5, surge: 0.3 }], lasts: 16, servo: SERVO, ...more })

/** Play of a whole width (rad) between what is turned and what turns with it: the follower is dragged along at either end. */
function gap(width: number) {
  let follower = Number.NaN
  return (leader: number): number => {
    if (Number.isNaN(follower)) follower = leader
    follower = Math.min(Math.max(follower, leader - width / 2), leader + width / 2)
    return follower
  }
}
const ELBOW = 2
const at = (width: number) => {
  const dragged = gap(width)
  return (j: number, q: number) => (j === ELBOW ? dragged(q) : q)
}
const truth = (_: number, q: number) => q

describe('reversal watch', () => {
  it.each([
    SERVO,
    { frequency: 9.6, damping: 0.64, feedforward: 0.4 },
    { frequency: 14.4, damping: 0.96, feedforward: 0.6 },
  ])('does not take the lag of a servo for play: %j', (servo) => {
    const { findings, figure } = play({ servo, witness: truth })
    expect(findings).toEqual([])
    expect(figure('', 'joints whose play behind the encoder was seen')).toBe(12)
    expect(figure('port.elbow', 'reversal error, setpoint to feedback')).toBeLessThan(0.02 * DEG)
  })

  it('nor that of the slowest servo that passes: 57 ms', () => {
    expect(play({ servo: { frequency: 5, damping: 0.9, feedforward: 0 } }).findings).toEqual([])
  })

  it('measures play behind the encoder against the true position, and leaves the following error alone', () => {
    const { findings, figure } = play({ witness: at(0.5 * DEG) })
    expect(told(findings)).toEqual(['warning port.elbow reversal error behind the encoder'])
    expect(findings[0]!.value / DEG).toBeCloseTo(0.5, 2)
    expect(figure('port.elbow', 'reversal error, setpoint to feedback')).toBeLessThan(0.01 * DEG)
    expect(figure('port.shoulder', 'reversal error, behind the encoder')).toBeLessThan(1e-9)
  })

  it('measures play in front of the encoder against the setpoint', () => {
    const { findings } = play({ feedback: at(0.5 * DEG) })
    expect(told(findings)).toEqual(['warning port.elbow reversal error'])
    expect(findings[0]!.value / DEG).toBeCloseTo(0.5, 2)
    expect(findings[0]!.stop).toBe(null)
  })

  it('tells it when the joint next turns round, not when the run has ended', () => {
    const { findings } = play({ feedback: at(0.5 * DEG), lasts: 60 })
    // 0.5 s of motion each way, twice 2 s of a stroke at the least, from a standing start at 0.5 s.
    expect(findings[0]!.t).toBeGreaterThan(1.5e9)
    expect(findings[0]!.t).toBeLessThan(8e9)
  })

  it('tells play that grows once as a warning, and once more when it has become a failure', () => {
    const [narrow, wide] = [gap(0.6 * DEG), gap(6 * DEG)]
    const { findings } = play({
      lasts: 40,
      feedback: (j, q, k) => (j !== ELBOW ? q : k < 3000 ? narrow(q) : wide(q)),
    })
    expect(told(findings)).toEqual(['warning port.elbow reversal error', 'failure port.elbow reversal error'])
    expect(findings[0]!.t).toBeLessThan(15e9)
    expect(findings[1]!.t).toBeGreaterThan(15e9)
  })

  it('afloat, where the water pushes to one side, judges only what is behind the encoder', () => {
    const { findings, figures } = play({ plant: 'afloat', feedback: at(0.5 * DEG), witness: at(0.5 * DEG) })
    expect(findings).toEqual([])
    const row = figures.find(
      (f) => f.place === 'port.elbow' && f.name === 'reversal error, setpoint to feedback',
    )!
    expect(row.value / DEG).toBeCloseTo(0.5, 2)
    expect(row.limit).toBe(null)
    const hidden = play({ plant: 'afloat', witness: at(0.5 * DEG) })
    expect(told(hidden.findings)).toEqual(['warning port.elbow reversal error behind the encoder'])
  })

  it('fails play as large as the window of the following error', () => {
    const { findings } = play({ feedback: at(1.7 * DEG) })
    expect(told(findings)).toEqual(['failure port.elbow reversal error'])
    expect(findings[0]!.limit / DEG).toBeCloseTo(1.5, 9)
  })

  it('knows nothing of what is behind an encoder where nobody looks at the arm', () => {
    const { findings, figure } = play({})
    expect(findings).toEqual([])
    expect(figure('', 'joints whose play behind the encoder was seen')).toBe(0)
    expect(() => figure('port.elbow', 'reversal error, behind the encoder')).toThrow()
  })

  it('is not led astray by a load that changes with the place', () => {
    // 0.01 rad/rad: 1 deg over the range of a joint that moves by 100 deg.
    const { findings, figure } = play({ feedback: (_, q) => q - 0.004 - 0.01 * Math.sin(q) })
    expect(findings).toEqual([])
    expect(figure('port.swing', 'reversal error, setpoint to feedback')).toBeLessThan(0.02 * DEG)
  })

  it('says nothing where motion at one speed cannot tell lag from play', () => {
    const { run, watch } = watching('reversal')
    // To and fro at 0.5 rad/s, turning round at once; the feedback a period late.
    const zigzag = (k: number): number => 0.5 * 0.005 * Math.abs((Math.abs(k) % 800) - 400)
    run.stage('play').cycles(2400, { setpoint: (_, k) => zigzag(k), feedback: (_, k) => zigzag(k - 3) })
    watch.close()
    expect(watch.figures().map((f) => f.name)).toEqual(['joints whose play behind the encoder was seen'])
  })

  it('warns from where the rig wants it, and looks only at motion that follows setpoints', () => {
    const strict = play({
      feedback: at(0.1 * DEG),
      change: (text) => change(text, 'watch: {}', 'watch: { reversal: { warning: "0.05 deg" } }'),
    })
    expect(told(strict.findings)).toEqual(['warning port.elbow reversal error'])
    const { run, watch } = watching('reversal')
    const sine = (k: number): number => 0.5 * Math.sin(k * 0.005)
    const dragged = gap(0.05)
    run.stage('rest').cycles(3000, {
      setpoint: (_, k) => sine(k),
      feedback: (j, k) => (j === 0 ? dragged(sine(k)) : sine(k)),
    })
    watch.close()
    expect(watch.figures().length).toBe(1)
  })
})
