/** What each fault of a joint does to its drive. */
import { type Nanos, NS_PER_S, nanos } from '../../clock.js'
import type { ArmFaultName, JointFaultName } from '../../files/faults/catalogue.js'
import type { Ongoing } from '../../ongoing.js'
import type { FaultyDrive } from './faulty.js'

// Emergency codes: CiA 301 for 1000h (generic) and 5000h (device hardware), CiA 402 for the others; from memory.
const GENERIC = 0x1000
const HARDWARE = 0x5000
const TOO_HOT = 0x4310
const UNDERVOLTAGE = 0x3220
/** K above what its torque makes of it, at which a drive that grows too hot goes into fault. Invented. */
const TRIPS_AT = 100
/** s that a scale takes to drift off, and between two steps of what changes little by little. */
const DRIFTS_FOR = 5
const LITTLE = nanos(0.005)
/** Hz; no harmonic of a stroke that an arm could make. */
const TREMBLES_AT = 17
const SHAKES_AT = 11
/** Share of the supply voltage below which drives go into fault. */
const LEAST_SUPPLY = 0.6

/** @param amount as the catalogue has it; @param t now */
type Behaviour = (drive: FaultyDrive, on: boolean, amount: number, ongoing: Ongoing, t: Nanos) => void

/** `swapped` takes two drives: it is the plant's. */
export const JOINT_BEHAVIOUR: Readonly<Record<Exclude<JointFaultName, 'swapped'>, Behaviour>> = {
  silent: ({ line }, on) => {
    line.silent = on
  },
  dropped: ({ line }, on, share) => {
    line.dropped = on ? share : 0
  },
  late: ({ line }, on, delay) => {
    line.late = on ? nanos(delay) : 0
  },
  doubled: ({ line }, on, share) => {
    line.doubled = on ? share : 0
  },
  overtaken: ({ line }, on, share) => {
    line.overtaken = on ? share : 0
  },
  stale: ({ line }, on) => {
    line.stale = on
  },
  'feedback-lost': ({ line }, on) => {
    line.noFeedback = on
  },
  'heartbeat-lost': ({ line }, on) => {
    line.noHeartbeat = on
  },
  unanswered: ({ line }, on) => {
    line.unanswered = on
  },
  twin: (drive, on, angle) => {
    drive.line.twin = on ? (feedback) => drive.body.encoder.beside(angle, feedback) : null
    if (on) drive.twinBoots()
  },
  emergencies: (drive, on, rate, ongoing) => {
    ongoing.end('emergencies')
    if (!on) return
    drive.emergency(GENERIC)
    ongoing.every('emergencies', drive.scheduler, NS_PER_S / rate, () => drive.emergency(GENERIC))
  },
  unpowered: (drive, on) => drive.power(!on),
  'brown-out': (drive, on, time, _, t) => {
    if (!on) return
    drive.power(false)
    drive.scheduler.at(t + nanos(time), () => drive.power(true))
  },

  frozen: ({ own: { encoder, motion } }, on, _, __, t) => encoder.freeze(on ? motion.measured(t) : null),
  offset: ({ own }, on, angle, _, t) => own.motion.shiftEncoder(t, on ? angle : 0),
  'zero-lost': ({ conduct, own }, on, angle, _, t) => {
    conduct.zeroLost = on ? angle : 0
    if (!on) own.motion.shiftEncoder(t, 0)
  },
  noisy: ({ own: { encoder }, streams }, on, angle) => {
    const random = streams('noisy')
    const deviation = angle * encoder.countsPerRadian
    encoder.spoil(on ? (counts) => Math.round(counts + deviation * random.normal()) | 0 : null)
  },
  drifting: ({ own: { motion }, scheduler }, on, share, ongoing, t) => {
    ongoing.end('drifting')
    if (!on) motion.scaleEncoder(t, 1)
    else
      ongoing.every('drifting', scheduler, LITTLE, (since) => {
        const part = Math.min(1, since / NS_PER_S / DRIFTS_FOR)
        motion.scaleEncoder(scheduler.now(), 1 + share * part)
        if (part === 1) ongoing.end('drifting')
      })
  },
  mirrored: ({ own }, on, _, __, t) => own.motion.mirror(t, on),
  wrapped: ({ own: { encoder, motion } }, on, angle, _, t) => {
    if (!on) {
      encoder.spoil(null)
      return
    }
    const turn = Math.round(angle * encoder.countsPerRadian)
    const from = encoder.read(motion.measured(t))
    encoder.spoil((counts) => from + ((((counts - from) % turn) + turn) % turn))
  },
  'sign-extended': ({ own: { encoder } }, on, bits) => {
    const lost = 32 - bits
    encoder.spoil(on ? (counts) => (counts << lost) >> lost : null)
  },
  'stuck-bit': ({ own: { encoder } }, on, bit) => encoder.spoil(on ? (counts) => counts | (1 << bit) : null),
  echo: (drive, on) => drive.own.encoder.spoil(on ? () => drive.told : null),

  jammed: ({ own }, on, _, __, t) => own.motion.jam(t, on),
  slipping: ({ own }, on, share, _, t) => own.motion.loosen(t, (loose) => loose.slip(on ? share : 0)),
  backlash: ({ own }, on, angle, _, t) =>
    own.motion.loosen(t, (loose, motor) => loose.play(on ? angle : 0, motor)),
  trembling: ({ own }, on, angle, _, t) =>
    own.motion.loosen(t, (loose) => loose.tremble(on ? angle : 0, TREMBLES_AT)),
  stiff: ({ own }, on, share, _, t) => own.motion.rub(t, on ? share : 0),
  brakeless: ({ own }, on, _, __, t) => own.motion.brake(t, !on),
  kicking: ({ own }, on, angle) => own.motion.spring(on ? angle : 0),
  pushed: ({ own }, on, speed, _, t) => own.motion.push(t, on ? speed : 0),

  weak: ({ own }, on, share, _, t) => own.motion.weaken(t, on ? share : 1, 1),
  hot: (drive, on, time, ongoing, t) => {
    const { motion } = drive.own
    const { winding } = drive.health
    ongoing.end('hot')
    winding.hotter = 0
    if (!on) motion.weaken(t, 1, 1)
    else
      ongoing.every('hot', drive.scheduler, LITTLE, (since) => {
        const left = 1 - since / NS_PER_S / time
        winding.hotter = TRIPS_AT * (1 - Math.max(0, left))
        if (left > 0) motion.weaken(drive.scheduler.now(), left, 1)
        else {
          ongoing.end('hot')
          drive.trip(TOO_HOT)
        }
      })
  },
  lagging: ({ conduct }, on, delay) => {
    conduct.lag = on ? nanos(delay) : 0
  },
  tripped: (drive, on) => {
    if (on) drive.trip(HARDWARE)
  },
  'stop-ignored': ({ conduct }, on) => {
    conduct.ignoresStop = on
  },
  'stop-missed': ({ conduct }, on, frames) => {
    conduct.missed = on ? frames : 0
  },
  'running-on': ({ conduct }, on, time) => {
    conduct.runOn = on ? nanos(time) : 0
  },
  unguarded: ({ conduct }, on) => {
    conduct.watched = !on
  },
}

/** What a fault of an arm does to each of its drives. `swapped-sides` takes two arms: it is the plant's. */
export const ARM_BEHAVIOUR: Readonly<Record<Exclude<ArmFaultName, 'swapped-sides'>, Behaviour>> = {
  dead: (drive, on) => drive.power(!on),
  'supply-sagging': (drive, on, share, _, t) => {
    drive.own.motion.weaken(t, on ? share : 1, on ? share : 1)
    drive.health.fed = on ? share : 1
    if (on && share < LEAST_SUPPLY) drive.trip(UNDERVOLTAGE)
  },
  loose: ({ own }, on, angle, _, t) =>
    own.motion.loosen(t, (loose) => loose.tremble(on ? angle : 0, SHAKES_AT)),
}
