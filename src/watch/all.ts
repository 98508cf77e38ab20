/** All watches, in the fixed order in which they see things and stand in the verdict. */
import type { Complaint } from '../files/complaint.js'
import type { Finding } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { showQuantity } from '../units.js'
import { BusWatch } from './bus.js'
import { ClearanceWatch } from './clearance.js'
import { CraftWatch } from './craft.js'
import { DriveWatch } from './drive.js'
import { DriverWatch } from './driver.js'
import { FeedbackWatch } from './feedback.js'
import { HealthWatch } from './health.js'
import { accelerationFloor, LimitsWatch } from './limits.js'
import { LoadWatch } from './load.js'
import { OrderWatch } from './order.js'
import { OwnerWatch } from './owner.js'
import { ProofWatch } from './proof.js'
import { ReversalWatch } from './reversal.js'
import { SenseWatch } from './sense.js'
import { SetpointWatch } from './setpoint-watch.js'
import type { WatchSettings } from './settings.js'
import { SidesWatch } from './sides.js'
import { SilenceWatch } from './silence.js'
import { SmoothnessWatch } from './smoothness.js'
import { StepsWatch } from './steps.js'
import { StoppingWatch } from './stopping.js'
import { StrokeWatch } from './stroke.js'
import { TimingWatch } from './timing.js'
import { TrackingWatch } from './tracking.js'
import { VibrationWatch } from './vibration.js'
import type { Watch, WatchContext } from './watch.js'

export interface NamedWatch {
  readonly name: keyof WatchSettings
  readonly watch: Watch
}

export interface Watches {
  readonly list: readonly NamedWatch[]
  /** Those that the judge asks. */
  readonly load: LoadWatch
  readonly sense: SenseWatch
  readonly stopping: StoppingWatch
  readonly timing: TimingWatch
}

/** @param report is given each finding at once, in the order in which they are made */
export function createWatches(
  rig: Rig<WatchSettings>,
  scenario: Scenario,
  report: (f: Finding) => void,
): Watches {
  const context = <K extends keyof WatchSettings>(watch: K): WatchContext<WatchSettings[K]> => ({
    rig,
    scenario,
    settings: rig.watch[watch],
    report: (finding) => report({ watch, ...finding }),
  })
  const load = new LoadWatch(context('load'))
  const sense = new SenseWatch(context('sense'))
  const stopping = new StoppingWatch(context('stopping'), rig.watch.silence.periods * rig.control.period)
  const timing = new TimingWatch(context('timing'))
  return {
    list: [
      // What feedback is comes before what can be read from it: a leap is none of a joint's speed.
      { name: 'feedback', watch: new FeedbackWatch(context('feedback'), rig.watch) },
      { name: 'limits', watch: new LimitsWatch(context('limits')) },
      { name: 'tracking', watch: new TrackingWatch(context('tracking')) },
      { name: 'silence', watch: new SilenceWatch(context('silence')) },
      { name: 'sense', watch: sense },
      { name: 'stroke', watch: new StrokeWatch(context('stroke')) },
      { name: 'sides', watch: new SidesWatch(context('sides')) },
      { name: 'reversal', watch: new ReversalWatch(context('reversal')) },
      { name: 'steps', watch: new StepsWatch(context('steps')) },
      { name: 'setpoints', watch: new SetpointWatch(context('setpoints')) },
      { name: 'clearance', watch: new ClearanceWatch(context('clearance')) },
      { name: 'load', watch: load },
      { name: 'stopping', watch: stopping },
      { name: 'bus', watch: new BusWatch(context('bus')) },
      { name: 'drive', watch: new DriveWatch(context('drive')) },
      { name: 'smoothness', watch: new SmoothnessWatch(context('smoothness')) },
      { name: 'vibration', watch: new VibrationWatch(context('vibration'), rig.watch.tracking.lag) },
      { name: 'health', watch: new HealthWatch(context('health')) },
      { name: 'order', watch: new OrderWatch(context('order')) },
      { name: 'proof', watch: new ProofWatch(context('proof')) },
      { name: 'craft', watch: new CraftWatch(context('craft')) },
      { name: 'owner', watch: new OwnerWatch(context('owner')) },
      { name: 'timing', watch: timing },
      { name: 'driver', watch: new DriverWatch(context('driver')) },
    ],
    load,
    sense,
    stopping,
    timing,
  }
}

/** Watch settings that the rig makes senseless, and limits that the watches cannot see: for the loader, which knows the places. */
export function watchComplaints(rig: Rig<WatchSettings>): Complaint[] {
  const { limits, tracking, bus } = rig.watch
  const complaints: Complaint[] = rig.joints.flatMap((joint): Complaint[] => {
    const floor = accelerationFloor(joint, rig.simulation.feedback.noise, rig.control.period, limits)
    const limit = joint.limits.acceleration
    if (limit > floor) return []
    const { joints } = rig.arms[joint.arm]!
    return [
      {
        path: ['arms', joint.arm, 'joints', joints.indexOf(joint.index), 'limits', 'acceleration'],
        at: 'value',
        found: `a limit of ${showQuantity(limit, 'rad/s2')}`,
        expected: `more than the noise floor of the measured acceleration, ${showQuantity(floor, 'rad/s2')}`,
        advice: `raise the limit, use an encoder with more counts, or widen watch.limits.acceleration.window (now ${limits.acceleration.window})`,
      },
    ]
  })
  for (const [name, lag] of Object.entries(tracking.lag.set)) {
    if (lag <= tracking.lag.most) continue
    complaints.push({
      path: ['watch', 'tracking', 'lag', 'set', name],
      at: 'value',
      found: `a lag of ${showQuantity(lag, 's')}`,
      expected: `at most watch.tracking.lag.most, ${showQuantity(tracking.lag.most, 's')}`,
    })
  }
  const { warning, limit } = bus.load
  if (warning > limit) {
    complaints.push({
      path: ['watch', 'bus', 'load'],
      at: 'value',
      found: `a warning at ${showQuantity(warning, 'share')}`,
      expected: `one at or below the limit, ${showQuantity(limit, 'share')}`,
    })
  }
  return complaints
}
