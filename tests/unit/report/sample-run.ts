/** A made-up run of twelve joints that fails: one joint lags, then its feedback is lost and the stop comes too late. */

import type { Figure, Finding } from '../../../src/files/event.js'
import type { Rig } from '../../../src/files/rig.js'
import type { Scenario } from '../../../src/files/scenario.js'
import { randomStream } from '../../../src/random.js'
import type { ReportInput } from '../../../src/report/page/report.js'
import { CAUTIONS } from '../../../src/verdict/cautions.js'
import type { Band, Trace, Verdict } from '../../../src/verdict/verdict.js'
import { PROVENANCE } from '../record/sample-recording.js'

const JOINTS = ['swing', 'shoulder', 'elbow', 'roll', 'pitch', 'feather']
const ARMS = ['port', 'starboard'] as const
const DEG = Math.PI / 180

/** Only what the page looks at. */
export const RIG = {
  name: 'reservoir-skiff',
  about: 'A 4 m skiff',
  stop: { overall: null },
  buses: ARMS.map((arm, index) => ({ index, name: `${arm}-can`, bitrate: 1e6 })),
  arms: ARMS.map((name, index) => ({ index, name, side: name, joints: JOINTS.map((_, j) => index * 6 + j) })),
  joints: ARMS.flatMap((arm, a) =>
    JOINTS.map((joint, j) => ({
      index: a * 6 + j,
      name: `${arm}.${joint}`,
      arm: a,
      limits: {
        lower: -90 * DEG,
        upper: j === 1 ? 27 * DEG : 150 * DEG,
        speed: 3,
        acceleration: 26,
        torque: 30,
      },
      wire: { bus: a, node: 11 + j },
    })),
  ),
} as unknown as Rig

export const SCENARIO: Scenario = {
  name: 'joint-silent',
  about: 'The feedback of one joint is lost in mid-stroke; the right outcome is a stop.',
  duration: 12,
  plant: 'dry',
  commands: [
    { at: 1, surge: 0.3, yaw: 0, over: 0.5 },
    { at: 4, surge: 0.3, yaw: 10 * DEG, over: 0.5 },
  ],
  faults: [{ at: 6, lasts: Number.POSITIVE_INFINITY, fault: 'silent', place: 2, other: -1, amount: 0 }],
  operator: [{ at: 9, action: 'release' }],
  expect: {
    outcome: 'stop',
    by: 'silence',
    category: null,
    joint: 2,
    bus: null,
    after: 6,
    within: 0.05,
    still: 0.5,
    noMotion: true,
  },
}

const ZERO = 2.1e9

const finding = (over: Partial<Finding>): Finding => ({
  watch: 'tracking',
  severity: 'failure',
  place: 'port.elbow',
  t: ZERO + 5.205e9,
  quantity: 'following error',
  value: 0.0611,
  limit: 0.0524,
  unit: 'rad',
  says: 'The joint fell behind its setpoint for longer than it may.',
  why: 'A blade that lags is not where the driver thinks it is.',
  look: 'See whether the joint is near its torque limit, then whether its gains are those of the others.',
  stop: null,
  ...over,
})

export const FINDINGS: readonly Finding[] = [
  finding({
    severity: 'warning',
    place: 'port.shoulder',
    watch: 'limits',
    t: ZERO + 3.4e9,
    quantity: 'position',
    value: 26 * DEG,
    limit: 27 * DEG,
    says: 'The joint came near its upper limit.',
  }),
  finding({}),
  finding({
    watch: 'silence',
    t: ZERO + 6.064e9,
    quantity: 'age of feedback',
    value: 0.062,
    limit: 0.03,
    unit: 's',
    says: 'The joint said nothing for longer than it may.',
    why: 'A joint that is not heard cannot be watched, and so cannot be stopped in time.',
    look: 'Look at the plug and the termination of port-can, then at the drive of node 13.',
    stop: 1,
  }),
  finding({
    severity: 'doubt',
    place: 'starboard-can',
    watch: 'bus',
    t: ZERO + 7e9,
    quantity: 'load',
    value: 0.62,
    limit: 0.6,
    unit: 'share',
    says: 'The bus was busier than planned.',
  }),
]

function figures(): Figure[] {
  return RIG.joints.flatMap((j, i): Figure[] => [
    { place: j.name, name: 'peak', value: (0.4 + (i % 5) * 0.3) * DEG, unit: 'rad', limit: 3 * DEG },
    { place: j.name, name: 'p99', value: (0.3 + (i % 5) * 0.2) * DEG, unit: 'rad', limit: null },
    { place: j.name, name: 'RMS', value: 0.2 * DEG, unit: 'rad', limit: null },
    { place: j.name, name: 'lag', value: 0.0121, unit: 's', limit: 0.03 },
  ])
}

export const VERDICT: Verdict = {
  format: 'drystroke-verdict-1',
  outcome: 'fail',
  sentence: 'The stop for port.elbow came 64.0 ms after its feedback was lost; the scenario allows 50.0 ms.',
  rig: 'reservoir-skiff',
  scenario: 'joint-silent',
  seed: 1,
  length: 13.4e9,
  zero: ZERO,
  ended: 'stopped',
  expectations: [
    {
      expected: 'a stop by the silence watch that names port.elbow',
      found: 'a stop by silence, port.elbow',
      met: true,
    },
    { expected: 'the stop within 50.0 ms of the fault', found: '64.0 ms', met: false },
    { expected: 'all joints still within 500 ms', found: '212 ms', met: true },
    { expected: 'no motion after the stop', found: 'none', met: true },
  ],
  stop: {
    source: 'silence',
    place: 'port.elbow',
    category: 1,
    t: ZERO + 6.064e9,
    says: 'No feedback of port.elbow for 62 ms.',
    escalation: null,
    toStill: 0.212,
  },
  findings: FINDINGS,
  moreFindings: 0,
  watches: [
    { watch: 'tracking', figures: figures() },
    {
      watch: 'silence',
      figures: RIG.joints.map((j) => ({
        place: j.name,
        name: 'oldest feedback',
        value: 0.0052,
        unit: 's',
        limit: 0.03,
      })),
    },
    {
      watch: 'bus',
      figures: RIG.buses.flatMap((b): Figure[] => [
        { place: b.name, name: 'load', value: 0.41, unit: 'share', limit: 0.6 },
        { place: b.name, name: 'messages lost', value: 0, unit: 'count', limit: 0 },
        { place: b.name, name: 'longest period', value: 0.00512, unit: 's', limit: null },
      ]),
    },
    { watch: 'sense', figures: [] },
  ],
  cautions: [
    ...CAUTIONS,
    'The simulated drives have brakes; whether real ones do is stated in the rig, not measured.',
  ],
}

/** A passed run of the same rig, with nothing found. */
export const PASSED: Verdict = {
  ...VERDICT,
  outcome: 'pass',
  sentence: 'Played to its end; every expectation was met.',
  scenario: 'slow-ahead',
  ended: 'completed',
  expectations: [{ expected: 'the scenario plays to its end', found: 'it did', met: true }],
  stop: null,
  findings: [],
}

export const INCOMPLETE: Verdict = {
  ...PASSED,
  outcome: 'incomplete',
  sentence: 'The recording was cut short.',
  scenario: 'gentle-arc',
  zero: null,
  ended: 'cut short',
  expectations: [],
}

/** Strokes after the start, silence of joint 2 from the fault on, rest after the stop. */
export function trace(bins = 2000): Trace {
  const bin = 13.4e9 / bins
  const random = randomStream(1, 'sample trace')
  const band = (value: (joint: number, t: number) => number, width: number): Band[] =>
    RIG.joints.map((j) => {
      const min = new Float64Array(bins)
      const max = new Float64Array(bins)
      for (let i = 0; i < bins; i++) {
        const v = value(j.index, (i * bin - ZERO) / 1e9)
        min[i] = v - random.uniform() * width
        max[i] = v + random.uniform() * width
      }
      return { min, max }
    })
  const still = (t: number): number => Math.min(t, 6.2)
  const position = (j: number, t: number): number => {
    const s = still(t)
    const approach = Math.min(1, Math.max(0, (s + 1.5) / 1.2))
    const stroke = s < 1 ? 0 : Math.min(1, (s - 1) / 0.8)
    const amplitude = [34, 16, 22, 9, 14, 40][j % 6]! * DEG
    return (
      (1 - approach) * 5 * DEG +
      approach * (8 + 2 * (j % 6)) * DEG +
      stroke * amplitude * Math.sin(2.6 * (s - 1) + (j % 6) * 0.9)
    )
  }
  const lag = (j: number): number => (j === 2 ? 0.03 : 0.008)
  const lost = (j: number, t: number): boolean => j === 2 && t > 6
  return {
    from: 0,
    bin,
    bins,
    setpoint: band((j, t) => (t > 6.07 ? Number.NaN : position(j, t)), 1e-5),
    feedback: band((j, t) => (t < -2 || lost(j, t) ? Number.NaN : position(j, t - lag(j))), 2e-4),
    error: band(
      (j, t) => (t > 6.07 || t < -1.9 || lost(j, t) ? Number.NaN : position(j, t) - position(j, t - lag(j))),
      4e-4,
    ),
  }
}

const STAGES: ReportInput['stages'] = [
  { stage: 'setup', t: 0 },
  { stage: 'seed', t: 0.1e9 },
  { stage: 'enable', t: 0.4e9 },
  { stage: 'approach', t: 0.6e9 },
  { stage: 'play', t: ZERO },
  { stage: 'stopping', t: ZERO + 6.064e9 },
  { stage: 'stopped', t: ZERO + 6.276e9 },
]

const SETTINGS: ReportInput['settings'] = [
  { name: 'limits.warning', value: '80 %', usual: '90 %', about: 'share of a limit: "10 %" at least' },
  { name: 'bus.rise', value: '64', usual: '64', about: 'counts by which error counters may rise' },
  { name: 'load.trip', value: null, usual: null, about: 'left out: not known' },
]

export function sample(over: Partial<ReportInput> = {}): ReportInput {
  return {
    verdict: VERDICT,
    trace: trace(),
    rig: RIG,
    scenario: SCENARIO,
    stages: STAGES,
    provenance: { ...PROVENANCE, ended: '2024-05-01T10:00:02.000Z' },
    settings: SETTINGS,
    ...over,
  }
}
