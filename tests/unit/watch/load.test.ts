import { describe, expect, it } from 'vitest'
import type { Finding } from '../../../src/files/event.js'
import { readRigFile } from '../../../src/files/load.js'
import type { PlantKind, Rig } from '../../../src/files/rig.js'
import { ArmTorques } from '../../../src/motion/arm-torques.js'
import { LoadWatch } from '../../../src/watch/load.js'
import { isRated } from '../../../src/watch/loaded-arm.js'
import { type WatchSettings, watchSchemas } from '../../../src/watch/settings.js'
import { scenario } from './rig.js'
import { told, watching } from './transcript.js'

const PERIOD = 0.005
/** Samples of one swing to and fro. */
const TURN = 400
const demo = readRigFile('rigs/reservoir-skiff-urdf.yaml', watchSchemas)
/** The demo rig on a CAN interface: what its drives tell is then their own. */
const real: Rig<WatchSettings> = {
  ...demo,
  buses: demo.buses.map((bus) => ({ ...bus, address: { kind: 'socketcan', interface: bus.name } })),
}

/** All joints swing together, blade in and out of the water. */
const MIDDLE = [0.1, 0.6, 1.3, 0.05, 0.9, 0.5]
const SWING = [0.35, 0.3, 0.35, 0.3, 0.3, 0.8]
const RATE = (2 * Math.PI) / (TURN * PERIOD)
const swing = (k: number, i: number): number => MIDDLE[i]! + SWING[i]! * Math.sin(RATE * k * PERIOD + i)
const still = (_: number, i: number): number => MIDDLE[i]!

interface Setting {
  readonly rig?: Rig<WatchSettings>
  readonly load?: Partial<WatchSettings['load']>
  readonly plant?: PlantKind
}

function watched({ rig = demo, load = {}, plant = 'dry' }: Setting = {}) {
  const findings: Finding[] = []
  const settings = { ...rig.watch.load, ...load }
  const report = (f: Omit<Finding, 'watch'>) => void findings.push({ watch: 'load', ...f })
  const watch = new LoadWatch({ rig, scenario: scenario({ plant }), settings, report })
  let k = 0
  /** Periods that SYNC did not come in, by bus. */
  const missed = [0, 0]
  const time = (bus = 0): number => (k + missed[bus]!) * 5e6
  const stage = (name: 'approach' | 'play' | 'rest') => watch.see({ kind: 'stage', t: time(), stage: name })
  const miss = (periods: number, of: readonly number[] = [0, 1]) => {
    for (const bus of of) missed[bus]! += periods
  }
  /** @param torque N m by sample and place in the arm */
  const play = (
    count: number,
    position: (k: number, i: number) => number,
    torque: (k: number, i: number) => number = () => 0,
    lost: (k: number, joint: number) => boolean = () => false,
  ): void => {
    for (const end = k + count; k < end; k++) {
      for (const { index: bus } of rig.buses) watch.see({ kind: 'sync', t: time(bus), bus, index: k })
      for (const { index: joint, arm } of rig.joints) {
        if (lost(k, joint)) continue
        const i = rig.arms[arm]!.joints.indexOf(joint)
        const [at, tau] = [position(k, i), torque(k, i)]
        watch.see({
          kind: 'feedback',
          t: time() + 1e5 * (joint + 1),
          joint,
          index: k,
          position: at,
          torque: tau,
        })
      }
    }
  }
  const close = () => {
    watch.close()
    const figures = watch.figures()
    return (place: string, name: string): number | undefined =>
      figures.find((f) => f.place === place && f.name === name)?.value
  }
  return { watch, findings, stage, play, miss, close }
}

/** The model's torques of the swing, without the filter. */
function modelOf(rig: Rig): (k: number, i: number) => number {
  const own = rig.joints.filter((j) => j.arm === 0).filter(isRated)
  const torques = new ArmTorques(rig.craft, rig.arms[0]!, own, new Float64Array(own.length), null)
  const of = (f: (i: number) => number) => Float64Array.from(own, (_, i) => f(i))
  const table = Array.from({ length: TURN }, (_, k) => {
    const angle = (i: number) => RATE * k * PERIOD + i
    torques.at(
      of((i) => swing(k, i)),
      of((i) => SWING[i]! * RATE * Math.cos(angle(i))),
      of((i) => -SWING[i]! * RATE ** 2 * Math.sin(angle(i))),
    )
    return [...torques.dry]
  })
  return (k, i) => table[k % TURN]![i]!
}

describe('load watch', () => {
  it('sees nothing and says so where the rig states no masses', () => {
    const { watch } = watching('load')
    expect(watch.kinds).toEqual([])
    watch.close()
    expect(watch.figures()).toEqual([])
    expect(watch.seen).toBe(false)
    expect((watch as LoadWatch).notes).toEqual([
      'The rig does not state body and rating of every joint (port.roll has none): nothing watched what the arms bear, dry or afloat.',
    ])
  })

  it('has peak, stroke and warmth of what a drive told, in closed form', () => {
    const { play, stage, close } = watched({ rig: real, load: { trip: 600 } })
    stage('play')
    // Five whole sines a stroke, so the RMS of every stroke is 7 / sqrt 2; half a window is not seen.
    const skipped = 10
    play(4 * TURN + skipped, swing, (k) => 7 * Math.sin((2 * Math.PI * 5 * k) / TURN))
    const figure = close()
    const { continuous, warmUp } = real.joints[0]!.rating!
    const load = 24.5 / continuous ** 2
    expect(figure('port.swing', 'torque, told by the drive, peak')).toBeCloseTo(7, 9)
    expect(figure('port.swing', 'torque, told by the drive, RMS of the heaviest stroke')).toBeCloseTo(
      7 / Math.SQRT2,
      9,
    )
    expect(figure('port.swing', 'warmth at the end of the trip, told by the drive')).toBeCloseTo(
      load * (1 - Math.exp(-600 / warmUp!)),
      9,
    )
    const run = 4 * TURN * PERIOD
    const warm = figure('port.swing', 'warmth at the end of the run, told by the drive')!
    expect(warm / (load * (1 - Math.exp(-run / warmUp!)))).toBeCloseTo(1, 3)
  })

  it('warms up under a held torque as one time constant does, and says when it is too much', () => {
    const { play, stage, close, findings } = watched({ rig: real, load: { trip: 3600, residual: 10 } })
    stage('play')
    const torque = (_: number, i: number) => (i === 2 ? 18 : 0)
    play(2000, still, torque)
    const figure = close()
    // The elbow: 15 N m for ever, 10 min.
    const seen = (2000 - 10) * PERIOD
    expect(figure('port.elbow', 'warmth at the end of the run, told by the drive')).toBeCloseTo(
      1.44 * (1 - Math.exp(-seen / 600)),
      9,
    )
    expect(figure('port.elbow', 'warmth at the end of the trip, told by the drive')).toBeCloseTo(
      1.44 * (1 - Math.exp(-6)),
      9,
    )
    const warm = findings.filter((f) => f.quantity === 'warmth by torque told by the drive')
    expect(warm.map((f) => [f.severity, f.place])).toEqual([
      ['failure', 'port.elbow'],
      ['failure', 'starboard.elbow'],
    ])
    // -10 min ln(1 - 1/1.44)
    expect(warm[0]!.says).toContain('after 11.9 min')
  })

  it('holds the model against what drives told: ratio, residual, and a warning where they differ', () => {
    const model = modelOf(real)
    const { play, stage, close, findings, watch } = watched({ rig: real })
    stage('play')
    play(4 * TURN, swing, (k, i) => model(k, i) * (i === 1 ? 1.5 : 1))
    const figure = close()
    const squares = (i: number) => Array.from({ length: TURN }, (_, k) => model(k, i) ** 2)
    const rms = (i: number) => Math.sqrt(squares(i).reduce((a, b) => a + b) / TURN)
    expect(figure('port.swing', 'torque, told over model')).toBeCloseTo(1, 2)
    expect(figure('port.shoulder', 'torque, told over model')).toBeCloseTo(1.5, 2)
    const residual = figure('port.shoulder', 'torque, off the model, RMS')!
    expect(residual / (rms(1) / 2)).toBeCloseTo(1, 1)
    expect(figure('port.swing', 'torque, off the model, RMS')!).toBeLessThan(0.1 * residual)
    expect(residual).toBeGreaterThan(4)
    expect(told(findings.filter((f) => f.quantity.startsWith('torque off')))).toEqual([
      'warning port.shoulder torque off the model, RMS',
      'warning starboard.shoulder torque off the model, RMS',
    ])
    expect(watch.notes[0]).toMatch(/^Trust the torques of the model no further than this: .*port\.shoulder/)
  })

  it('does not hold the model against a drive that gives all that it may, nor against the others of its arm meanwhile', () => {
    const model = modelOf(real)
    const limit = real.link.torqueShare * real.joints[1]!.limits.torque
    const off = (torque: (k: number, i: number) => number) => {
      const { play, stage, close } = watched({ rig: real })
      stage('play')
      play(4 * TURN, swing, torque)
      const figure = close()
      return (joint: string) => figure(joint, 'torque, off the model, greatest')!
    }
    const calm = off(model)
    // For 50 samples of a turn the shoulder gives its most, now this way, now that, and shakes the elbow by 3 N m.
    const shaken = (most: number) =>
      off((k, i) => {
        const on = k % TURN >= 100 && k % TURN < 150
        return on && i === 1 ? most * (-1) ** k : model(k, i) + (on && i === 2 ? 3 : 0)
      })
    const atLimit = shaken(limit)
    for (const joint of ['port.shoulder', 'port.elbow']) {
      expect(calm(joint)).toBeLessThan(0.5)
      expect(atLimit(joint), joint).toBeLessThanOrEqual(calm(joint))
    }
    // What a drive gives below its limit it is held to.
    const below = shaken(0.9 * limit)
    expect(below('port.shoulder')).toBeGreaterThan(0.9 * limit)
    expect(below('port.elbow')).toBeGreaterThan(2.5)
  })

  it('says so where nothing is left to hold the model against', () => {
    const { play, stage, close, watch } = watched({ rig: real })
    stage('play')
    play(TURN, swing, (_, i) => real.link.torqueShare * real.joints[i]!.limits.torque)
    expect(close()('port.swing', 'torque, told over model')).toBeUndefined()
    expect(watch.notes[0]).toContain('could not be held against the drives')
  })

  it('does not take the torques of simulated arms on dry land, or of a stand-in, for evidence', () => {
    const dry = watched()
    dry.stage('play')
    dry.play(TURN, swing, () => 29)
    expect(dry.close()('port.swing', 'torque, told by the drive, peak')).toBeUndefined()
    expect(dry.watch.notes[0]).toContain('no drive told torques of its own')
    const standIn = watched({ rig: real })
    standIn.watch.see({ kind: 'arms', t: 0, arms: 'stand-in', says: '' })
    standIn.stage('play')
    standIn.play(TURN, swing, () => 29)
    expect(standIn.close()('port.swing', 'torque, told by the drive, peak')).toBeUndefined()
  })

  it('says of drives that are simulated afloat that they are no evidence for the model they were made from', () => {
    const model = modelOf(demo)
    const notes = (rig: Rig<WatchSettings>) => {
      const { play, stage, close, watch } = watched({ rig, plant: 'afloat' })
      stage('play')
      play(2 * TURN, swing, model)
      expect(close()('port.swing', 'torque, told over model')).toBeDefined()
      return watch.notes[0]
    }
    expect(notes(demo)).toMatch(/^Nothing here says how far to trust the torques of the model/)
    expect(notes(real)).toMatch(/^Trust the torques of the model no further than this/)
  })

  it('does not take a lost sample for a jerk', () => {
    const peak = (lost: (k: number, joint: number) => boolean) => {
      const { play, stage, close } = watched()
      stage('play')
      play(3 * TURN, swing, () => 0, lost)
      return close()('port.swing', 'torque, dry, peak')!
    }
    const whole = peak(() => false)
    expect(whole).toBeGreaterThan(1)
    const broken = peak((k, joint) => joint === 0 && k % 97 === 50)
    expect(broken).toBeLessThanOrEqual(whole)
    expect(broken).toBeGreaterThan(0.95 * whole)
  })

  it('does not take a SYNC that came late, or what the joints do until they are back at their setpoints, for the motion of a stroke', () => {
    const model = modelOf(real)
    const played = (shift: number, jerk: number) => {
      const all = watched({ rig: real })
      all.stage('approach')
      let gone = 0
      // Drives that had no setpoint for four periods hurry after it for ten more, and their torque tells.
      for (let n = 0; n < 8; n++) {
        const away = (k: number) => (shift > 0 && n > 0 && k % 200 < 10 ? 1 : 0)
        all.play(
          200,
          (k, i) => swing(k + gone, i) + jerk * away(k) * Math.sin((Math.PI * (k % 200)) / 10),
          (k, i) => model(k + gone, i) + 5 * away(k),
        )
        all.miss(shift)
        gone += shift
      }
      return { figure: all.close(), notes: all.watch.notes }
    }
    const even = played(0, 0)
    const held = played(4, 0.02)
    const late = played(4, 0)
    for (const joint of ['port.shoulder', 'port.pitch']) {
      for (const name of ['torque, afloat, peak', 'torque, off the model, greatest']) {
        const [there, here] = [even.figure(joint, name)!, held.figure(joint, name)!]
        expect(here, `${joint}, ${name}`).toBeGreaterThan(0)
        expect(here, `${joint}, ${name}`).toBeLessThan(1.05 * there)
      }
      const peak = ({ figure }: typeof even) => figure(joint, 'torque, dry, peak')!
      // Samples with a gap between them are no acceleration; what the joints did do their drives bore.
      expect(peak(late)).toBeLessThan(1.05 * peak(even))
      expect(peak(held)).toBeGreaterThan(2 * peak(even))
    }
    // Of 200 motions the ten before the fit is whole, and twenty of link.window-timeout but for the first time: 220 of 1600.
    expect(even.notes.join()).not.toContain('did not come evenly')
    expect(held.notes.at(-1)).toMatch(/^SYNC or feedback did not come evenly: of 13\.[78] % of the motion /)
  })

  it('begins anew with the arm whose bus had the late SYNC', () => {
    const { play, stage, miss, close } = watched()
    stage('approach')
    play(200, swing)
    miss(4, [0])
    // Both arms have gone on meanwhile, and only one of them is known to have had the time.
    play(200, (k, i) => swing(k + 4, i))
    const figure = close()
    const peak = (joint: string) => figure(joint, 'torque, dry, peak')!
    expect(peak('starboard.swing')).toBeGreaterThan(2 * peak('port.swing'))
  })

  it('counts only while the bench moves the arms', () => {
    const { play, stage, close, watch } = watched()
    play(TURN, swing)
    play(20, still)
    stage('play')
    play(20, still)
    watch.see({ kind: 'stop', t: 0, source: 'operator', place: '', category: 1, says: '' })
    play(TURN, swing)
    stage('rest')
    play(TURN, swing)
    play(20, still)
    stage('play')
    watch.see({ kind: 'fault', t: 0, fault: 'jammed', place: 'port.swing', begins: true })
    play(TURN, swing)
    const figure = close()
    // Gravity does not turn the swing joint, which is upright.
    expect(figure('port.swing', 'torque, dry, peak')).toBeLessThan(6)
    expect(figure('port.swing', 'torque, dry, RMS of the heaviest stroke')).toBeUndefined()
  })

  it('a dry pass that the water overloads is a failure, with joint, phase and margin', () => {
    const run = (rig: Rig<WatchSettings>) => {
      const all = watched({ rig })
      all.stage('approach')
      all.play(5 * TURN, swing)
      return { ...all, figure: all.close() }
    }
    // The arms are each other's mirror image, and would only turn the craft.
    const arms = demo.arms.map((arm) =>
      arm.index === 0 ? arm : { ...arm, paddle: { ...arm.paddle, area: 1e-6 } },
    )
    const before = run({ ...demo, arms })
    const peak = (as: string) => before.figure('port.pitch', `torque, ${as}, peak`)!
    expect(peak('afloat')).toBeGreaterThan(1.05 * peak('dry'))
    // The blades have moved the craft that they would meet the water from.
    expect(Math.abs(before.figure('', 'surge afloat, predicted, fastest')!)).toBeGreaterThan(1e-3)
    // A drive that bears the one and not the other.
    const between = (peak('afloat') + peak('dry')) / 2
    const joints = demo.joints.map((joint) =>
      joint.name === 'port.pitch' && joint.rating
        ? { ...joint, rating: { ...joint.rating, continuous: between / 2, peak: between } }
        : { ...joint, rating: joint.rating && { ...joint.rating, peak: 1000 } },
    )
    const { findings } = run({ ...demo, arms, joints })
    const failures = findings.filter((f) => f.severity === 'failure')
    expect(failures.map((f) => f.place)).toEqual(['port.pitch'])
    const [overload] = failures
    expect(overload).toMatchObject({ quantity: 'torque afloat', limit: between, stop: null, unit: 'N m' })
    expect(overload!.value).toBeCloseTo(peak('afloat'), 9)
    expect(overload!.says).toMatch(/^Dry pass, afloat overload: .*margin -[\d.]+ N m\.$/)
  })

  it('says nothing of afloat where the rig states no hull', () => {
    const { play, stage, close, watch } = watched({ rig: { ...demo, hull: null } })
    stage('play')
    play(2 * TURN, swing)
    expect(close()('port.pitch', 'torque, afloat, peak')).toBeUndefined()
    expect(watch.notes[1]).toContain('no water or no hull')
  })
})
