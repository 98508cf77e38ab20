/** `drystroke check`: reads the files and walks the whole stroke, without a bus and without writing anything. */
import { type LeastDistance, scenarioClearance } from '../../bench/scenario-clearance.js'
import { greatestSideSpeed, USABLE } from '../../driver/fastest.js'
import { type JointPeaks, strokePeaks } from '../../driver/peaks.js'
import { checkReach, type ReachReport } from '../../driver/reach.js'
import { ReferenceDriver } from '../../driver/reference.js'
import { EXIT, type ExitStatus } from '../../errors.js'
import type { Rig, Side } from '../../files/rig.js'
import type { Scenario } from '../../files/scenario.js'
import { portSpeed, starboardSpeed } from '../../motion/side-speeds.js'
import { wrap } from '../../report/wrap.js'
import { showQuantity } from '../../units.js'
import { type Inputs, readInputs } from '../inputs.js'
import { columnsOf } from '../screen.js'
import { phasesOf } from '../unreachable.js'

export interface CheckArguments {
  readonly scenarios: readonly string[]
  readonly rig: string | undefined
  readonly bus: readonly string[]
  readonly json: boolean
}

/** A joint and what the stroke asks of it, as a share of its limit. */
interface Share {
  readonly joint: string
  readonly share: number
}

/** How near the fastest steady stroke of one side comes to the limits of the joint that it asks most of. */
interface SideDemand {
  readonly side: Side
  /** m/s, the fastest commanded speed of this side with its sign; 0: it stays parked */
  readonly sideSpeed: number
  readonly speed: Share | null
  readonly acceleration: Share | null
}

interface Demand {
  readonly scenario: string
  readonly sides: readonly SideDemand[]
}

/** @throws DrystrokeError on bad files */
export function check(args: CheckArguments): ExitStatus {
  const inputs = readInputs(args.scenarios, args.rig, args.bus)
  const reach = checkReach(inputs.rig)
  const reachable = reach.every((r) => r.reachable)
  const demands = reachable ? demandsOf(inputs) : []
  const clearance = reachable ? clearanceOf(inputs) : null
  const bearable = demands.every((d) => d.sides.every((s) => !tooMuch(s.speed) && !tooMuch(s.acceleration)))
  const clear = clearance?.every((c) => c.distance >= inputs.rig.clearance!.least) ?? true
  const greatest = reachable ? greatestSideSpeed(inputs.rig) : null
  const honest = greatest === null || (inputs.rig.stroke.fastest ?? 0) <= greatest
  if (args.json) {
    process.stdout.write(
      `${JSON.stringify({ rig: inputs.rig.name, notes: inputs.notes, reach, demands, clearance, greatestSideSpeed: greatest }, null, 2)}
`,
    )
  } else {
    const text = checkText(inputs, reach, demands, clearance, greatest, columnsOf(process.stdout))
    process.stdout.write(`${text}\n`)
  }
  if (!reachable) return EXIT.badInput
  return bearable && clear && honest ? EXIT.pass : EXIT.fail
}

function tooMuch(part: Share | null): boolean {
  return part !== null && part.share > 1
}

const SIDES = ['port', 'starboard'] as const

function demandsOf({ rig, scenarios }: Inputs): Demand[] {
  const known = new Map<number, JointPeaks[]>()
  const peaksAt = (speed: number): JointPeaks[] => {
    const peaks = known.get(speed) ?? strokePeaks(rig, speed)
    known.set(speed, peaks)
    return peaks
  }
  return scenarios.map(({ scenario }) => {
    const fastest = fastestSpeeds(rig, scenario)
    const sides = SIDES.map((side): SideDemand => {
      const sideSpeed = fastest[side]
      const none = { side, sideSpeed, speed: null, acceleration: null }
      const mine = new Set(rig.joints.filter((j) => rig.arms[j.arm]!.side === side).map((j) => j.name))
      if (sideSpeed === 0 || mine.size === 0) return none
      const peaks = peaksAt(cadenceSpeed(rig, sideSpeed, fastest)).filter((p) => mine.has(p.joint))
      const { joint, speedShare } = peaks.reduce((most, p) => (p.speedShare > most.speedShare ? p : most))
      const a = peaks.reduce((most, p) => (p.accelerationShare > most.accelerationShare ? p : most))
      return {
        ...none,
        speed: { joint, share: speedShare },
        acceleration: { joint: a.joint, share: a.accelerationShare },
      }
    })
    return { scenario: scenario.name, sides }
  })
}

/** null: the rig does not say how thick its arms are */
function clearanceOf({ rig, scenarios }: Inputs): LeastDistance[] | null {
  const { clearance } = rig
  if (clearance === null) return null
  const driver = new ReferenceDriver(rig)
  // Many scenarios differ by their faults alone.
  const known = new Map<string, LeastDistance | null>()
  return scenarios.flatMap(({ scenario }) => {
    const script = JSON.stringify([scenario.commands, scenario.duration])
    const least = known.get(script) ?? scenarioClearance({ ...rig, clearance }, driver, scenario)
    known.set(script, least)
    return least === null ? [] : [{ ...least, scenario: scenario.name }]
  })
}

type Speeds = Readonly<Record<Side, number>>

function fastestSpeeds({ craft }: Rig, { commands }: Scenario): Speeds {
  const farther = (most: number, v: number): number => (Math.abs(v) > Math.abs(most) ? v : most)
  return {
    port: commands.map((c) => portSpeed(c.surge, c.yaw, craft.track)).reduce(farther, 0),
    starboard: commands.map((c) => starboardSpeed(c.surge, c.yaw, craft.track)).reduce(farther, 0),
  }
}

/** Where both sides keep one cadence the faster one sets it: no slower stroke is assumed for the other. */
function cadenceSpeed(rig: Rig, own: number, { port, starboard }: Speeds): number {
  if (rig.stroke.sides === 'free') return own
  return Math.sign(own) * Math.max(Math.abs(port), Math.abs(starboard))
}

function checkText(
  { rig, rigFile, scenarios, notes }: Inputs,
  reach: readonly ReachReport[],
  demands: readonly Demand[],
  clearance: readonly LeastDistance[] | null,
  greatest: number | null,
  width: number,
): string {
  const lines = [
    `Rig ${rig.name} (${rigFile}): ${rig.arms.length} arms, ${rig.joints.length} joints, ${rig.buses.length} buses`,
    `Scenarios: ${scenarios.length}, files in order`,
    ...notes.flatMap((note) => wrap(`Note: ${note}`, width, 0, 2)),
    '',
    'Reach of the whole stroke: ahead, astern, and parking from all along it',
  ]
  for (const r of reach) {
    lines.push(`  ${r.arm}: ${r.reachable ? 'reached' : 'NOT REACHED'}`)
    if (r.margin) {
      const { joint, value, phase } = r.margin
      lines.push(
        `    least margin to a position limit  ${showQuantity(value, 'rad')}, ${joint}, phase ${phase.toFixed(3)}`,
      )
    }
    if (r.singularity) {
      const { value, least, phase } = r.singularity
      lines.push(
        `    least singularity measure         ${value.toFixed(3)} of at least ${least}, phase ${phase.toFixed(3)}`,
      )
    }
    for (const f of r.failures) lines.push(...wrap(`${f.motion}, ${phasesOf(f)}: ${f.reason}`, width, 4, 6))
  }
  if (demands.length > 0) lines.push('', ...demandLines(rig, demands))
  if (demands.length > 0) lines.push('', ...clearanceLines(rig, clearance, width))
  if (greatest !== null) lines.push('', ...wrap(greatestTold(greatest, rig.stroke.fastest), width, 0, 2))
  return lines.join('\n')
}

/** @param stated m/s */
function greatestTold(greatest: number, stated: number | null): string {
  const share = Math.round(100 * USABLE)
  const said = `Greatest side speed with which no joint needs more than ${share} % of its limits: ${showQuantity(greatest, 'm/s')}`
  if (stated === null) return `${said}; stroke.fastest is not stated`
  const much = stated > greatest ? ', which is too much' : ''
  return `${said}; stroke.fastest is ${showQuantity(stated, 'm/s')}${much}`
}

function demandLines(rig: Rig, demands: readonly Demand[]): string[] {
  // On a side with one arm the joint's own name says it.
  const shortOn = (side: Side): boolean => rig.arms.filter((arm) => arm.side === side).length === 1
  const told = (side: Side, part: Share | null): string => {
    if (part === null) return ''
    const joint = shortOn(side) ? part.joint.slice(part.joint.indexOf('.') + 1) : part.joint
    return `${(100 * part.share).toFixed(0).padStart(3)} % ${joint}${tooMuch(part) ? ', too much' : ''}`
  }
  const rows = [
    ['scenario', 'side', 'm/s', 'most speed', 'most acceleration'],
    ...demands.flatMap((d) =>
      d.sides.map((s, i) => [
        i === 0 ? d.scenario : '',
        s.side,
        Math.abs(s.sideSpeed).toFixed(2),
        s.sideSpeed === 0 ? 'parked' : told(s.side, s.speed),
        told(s.side, s.acceleration),
      ]),
    ),
  ]
  return ['Fastest steady stroke of each side, as a share of the joint limits', '', ...inColumns(rows)]
}

function clearanceLines(rig: Rig, least: readonly LeastDistance[] | null, width: number): string[] {
  if (least === null || rig.clearance === null) {
    const lacks = 'No distances: the rig has no section clearance, which says how thick the arms are'
    return wrap(lacks, width, 0, 2)
  }
  const limit = showQuantity(rig.clearance.least, 'm')
  const rows = [
    ['scenario', 'm', 'between', 'phase'],
    ...least.map(({ scenario, distance, between, phases }) => [
      scenario,
      `${distance.toFixed(3)}${distance < rig.clearance!.least ? ', too near' : ''}`,
      between.join(', '),
      phases.map((phase) => phase.toFixed(3)).join(', '),
    ]),
  ]
  const title = `Least distance on the commands of each scenario, at least ${limit}, if the arms do as the driver asks`
  return [...wrap(title, width, 0, 2), '', ...inColumns(rows)]
}

function inColumns(rows: readonly string[][]): string[] {
  const widths = rows[0]!.map((_, i) => Math.max(...rows.map((r) => r[i]!.length)))
  return rows.map((r) => `  ${r.map((cell, i) => cell.padEnd(widths[i]!)).join('  ')}`.trimEnd())
}
