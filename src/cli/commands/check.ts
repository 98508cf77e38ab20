/** `drystroke check`: reads the files and walks the whole stroke, without a bus and without writing anything. */
import { strokePeaks } from '../../driver/peaks.js'
import { checkReach, type ReachReport } from '../../driver/reach.js'
import { EXIT, type ExitStatus } from '../../errors.js'
import type { Rig } from '../../files/rig.js'
import type { Scenario } from '../../files/scenario.js'
import { portSpeed, starboardSpeed } from '../../motion/drive.js'
import { showQuantity } from '../../units.js'
import { type Inputs, readInputs } from '../inputs.js'

export interface CheckArguments {
  readonly scenarios: readonly string[]
  readonly rig: string | undefined
  readonly json: boolean
}

/** How near a scenario's fastest steady stroke comes to the limits of the joint that it asks most of. */
interface Demand {
  readonly scenario: string
  /** m/s, the fastest commanded side speed with its sign */
  readonly sideSpeed: number
  readonly speed: { readonly joint: string; readonly share: number } | null
  readonly acceleration: { readonly joint: string; readonly share: number } | null
}

/** @throws DrystrokeError on bad files */
export function check(args: CheckArguments): ExitStatus {
  const inputs = readInputs(args.scenarios, args.rig)
  const reach = checkReach(inputs.rig)
  const reachable = reach.every((r) => r.reachable)
  const demands = reachable ? inputs.scenarios.map((s) => demandOf(inputs.rig, s.scenario)) : []
  const bearable = demands.every((d) => (d.speed?.share ?? 0) <= 1 && (d.acceleration?.share ?? 0) <= 1)
  if (args.json) {
    process.stdout.write(`${JSON.stringify({ rig: inputs.rig.name, reach, demands }, null, 2)}\n`)
  } else process.stdout.write(`${checkText(inputs, reach, demands)}\n`)
  if (!reachable) return EXIT.badInput
  return bearable ? EXIT.pass : EXIT.fail
}

function demandOf(rig: Rig, scenario: Scenario): Demand {
  const speeds = scenario.commands.flatMap(({ surge, yaw }) => [
    portSpeed(surge, yaw, rig.craft.track),
    starboardSpeed(surge, yaw, rig.craft.track),
  ])
  const sideSpeed = speeds.reduce((most, v) => (Math.abs(v) > Math.abs(most) ? v : most), 0)
  if (sideSpeed === 0) return { scenario: scenario.name, sideSpeed, speed: null, acceleration: null }
  const peaks = strokePeaks(rig, sideSpeed)
  const bySpeed = peaks.reduce((most, p) => (p.speedShare > most.speedShare ? p : most))
  const byAcceleration = peaks.reduce((most, p) => (p.accelerationShare > most.accelerationShare ? p : most))
  return {
    scenario: scenario.name,
    sideSpeed,
    speed: { joint: bySpeed.joint, share: bySpeed.speedShare },
    acceleration: { joint: byAcceleration.joint, share: byAcceleration.accelerationShare },
  }
}

function checkText(
  { rig, rigFile, scenarios }: Inputs,
  reach: readonly ReachReport[],
  demands: readonly Demand[],
): string {
  const lines = [
    `Rig ${rig.name} (${rigFile}): ${rig.arms.length} arms, ${rig.joints.length} joints, ${rig.buses.length} buses`,
    `Scenarios: ${scenarios.length}, files in order`,
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
    for (const f of r.failures) lines.push(`    ${f.motion}, phase ${f.phase.toFixed(3)}: ${f.reason}`)
  }
  if (demands.length > 0) {
    lines.push('', 'Fastest steady stroke of each scenario, as a share of the joint limits', '')
    lines.push(
      `  ${'scenario'.padEnd(24)}${'side speed'.padStart(11)}  ${'most speed'.padEnd(21)}most acceleration`,
    )
    for (const d of demands) {
      const part = (p: Demand['speed']): string =>
        p
          ? `${(100 * p.share).toFixed(0).padStart(3)} % ${p.joint}${p.share > 1 ? ' (too fast)' : ''}`
          : 'none'
      const speed = `${d.sideSpeed.toFixed(2)} m/s`
      lines.push(
        `  ${d.scenario.padEnd(24)}${speed.padStart(11)}  ${part(d.speed).padEnd(21)}${part(d.acceleration)}`,
      )
    }
  }
  return lines.join('\n')
}
