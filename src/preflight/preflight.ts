/**
 * All that can be said of a rig and its scenarios before anything runs: files are read by then, no bus is opened, nothing is written.
 * What cannot be said for want of figures is said too.
 */
import { ScenarioWalk } from '../bench/scenario-walk.js'
import { type BusTimes, busTimes } from '../bus/bus-times.js'
import { greatestSideSpeed } from '../driver/fastest.js'
import { checkReach, type ReachReport } from '../driver/reach.js'
import { strokesOf } from '../driver/strokes.js'
import { isFrames, type Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { strokeRate } from '../motion/cadence.js'
import { HEEL_CAUTION } from '../motion/water/heel.js'
import type { WatchSettings } from '../watch/settings.js'
import { armLines } from './arm-lines.js'
import { busLines } from './bus-lines.js'
import type { LeastDistance } from './clearance-look.js'
import { type Demand, demandOf } from './demands.js'
import { heelLines, lacksHeel } from './heel-lines.js'
import type { Line } from './line.js'
import { mountLines } from './mount-lines.js'
import { scenarioLines } from './scenario-lines.js'
import { lookAtScripts, waitsOf } from './script-looks.js'

export interface Preflight {
  readonly lines: readonly Line[]
  /** Sentences on what nobody could look at. */
  readonly unchecked: readonly string[]
  /** Sentences that are to be read beside the lines. */
  readonly cautions: readonly string[]
  readonly buses: readonly BusTimes[]
  readonly reach: readonly ReachReport[]
  /** One for each scenario, in order; none where a stroke is out of reach. */
  readonly demands: readonly Demand[]
  /** null: the rig does not say how thick its arms are, or a stroke is out of reach */
  readonly clearance: readonly (LeastDistance & { readonly scenario: string })[] | null
  /** m/s; null: a stroke is out of reach */
  readonly greatestSideSpeed: number | null
}

/** @throws DrystrokeError `file-invalid` for a blade, or constrained axes, that make no sense */
export function preflight(rig: Rig<WatchSettings>, scenarios: readonly Scenario[]): Preflight {
  const buses = busTimes(rig)
  const reach = checkReach(rig)
  if (!reach.every((r) => r.reachable)) {
    const lines = [...busLines(rig, buses), ...armLines(rig, reach, null), ...mountLines(rig)]
    const none = { demands: [], clearance: null, greatestSideSpeed: null }
    return {
      lines,
      unchecked: ['No scenario was looked at, nor heel: the stroke is out of reach'],
      cautions: [],
      buses,
      reach,
      ...none,
    }
  }
  const greatest = greatestSideSpeed(rig)
  const waits = waitsOf(rig, buses)
  const walk = new ScenarioWalk(rig)
  const looks = lookAtScripts(rig, scenarios, walk, waits)
  const heels = heelLines(rig, walk.driver.parkPose)
  const cadence = greatest === 0 ? 0 : greatestCadence(rig, greatest)
  const lookOf = (scenario: Scenario) => looks.find((l) => l.scenarios.includes(scenario))!
  return {
    lines: [
      ...busLines(rig, buses),
      ...armLines(rig, reach, greatest),
      ...mountLines(rig),
      ...heels,
      ...looks.flatMap((look) => scenarioLines(rig, look, cadence, waits)),
    ],
    unchecked: uncheckedOf(rig),
    cautions: heels.length > 0 ? [HEEL_CAUTION] : [],
    buses,
    reach,
    demands: scenarios.map((scenario) => demandOf(rig, scenario, lookOf(scenario).motion)),
    clearance:
      rig.clearance === null
        ? null
        : scenarios.flatMap((scenario) => {
            const { least } = lookOf(scenario)
            return least === null ? [] : [{ scenario: scenario.name, ...least }]
          }),
    greatestSideSpeed: greatest,
  }
}

/** 1/s at a side speed (m/s) as it is commanded. */
function greatestCadence(rig: Rig, speed: number): number {
  const { shape, side } = strokesOf(rig)
  return strokeRate(speed * (1 + rig.driver.slip), side.cadence, (phase) => shape.recovery(phase))
}

function uncheckedOf(rig: Rig): string[] {
  const { joints, arms, clearance, mount, stop } = rig
  const light = arms.filter((arm) => arm.joints.some((j) => joints[j]!.body === null))
  const unrated = joints.filter(({ rating, arm }) => rating === null && !light.includes(arms[arm]!))
  const own = rig.buses.filter(({ index }) => joints.some((j) => isFrames(j) && j.wire.bus === index))
  const told = (of: readonly { readonly name: string }[]): string => of.map(({ name }) => name).join(', ')
  const noHeel = lacksHeel(rig)
  return [
    ...(clearance === null
      ? ['No distances: the rig has no section clearance, which says how thick the arms are']
      : []),
    ...(light.length > 0 ? [`No torques of ${told(light)}: not every joint states a body`] : []),
    ...(unrated.length > 0 ? [`No heat of ${told(unrated)}: no rating is stated`] : []),
    ...(light.length < arms.length ? ['No water: the torques are those of arms in air'] : []),
    ...(mount === null
      ? [
          'No mount: the rig has no section mount, which says what the arms are fixed to and which vibrations there are',
        ]
      : []),
    ...(noHeel === null ? [] : [`No heel: ${noHeel}`]),
    ...(own.length > 0
      ? [
          `No watchdog on ${told(own)}: what drives that speak frames of their own do when setpoints cease is theirs, and they brake as they were left, not as link.quick-stop says`,
        ]
      : []),
    ...(stop.category === 0
      ? [
          'No braking by a stop: of category 0, it takes the torque away at once, and how far the arms coast is not known',
        ]
      : []),
  ]
}
