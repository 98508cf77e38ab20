/** All watches, in the fixed order in which they see things and stand in the verdict. */
import { DrystrokeError } from '../errors.js'
import type { Finding } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import type { Scenario } from '../files/scenario.js'
import { showQuantity } from '../units.js'
import { BusWatch } from './bus.js'
import { DriveWatch } from './drive.js'
import { accelerationFloor, LimitsWatch } from './limits.js'
import { SenseWatch } from './sense.js'
import type { WatchSettings } from './settings.js'
import { SilenceWatch } from './silence.js'
import { StoppingWatch } from './stopping.js'
import { TrackingWatch } from './tracking.js'
import type { Watch, WatchContext } from './watch.js'

export interface NamedWatch {
  readonly name: keyof WatchSettings
  readonly watch: Watch
}

export interface Watches {
  readonly list: readonly NamedWatch[]
  /** The two that the judge asks. */
  readonly sense: SenseWatch
  readonly stopping: StoppingWatch
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
  const sense = new SenseWatch(context('sense'))
  const stopping = new StoppingWatch(context('stopping'))
  return {
    list: [
      { name: 'limits', watch: new LimitsWatch(context('limits')) },
      { name: 'tracking', watch: new TrackingWatch(context('tracking')) },
      { name: 'silence', watch: new SilenceWatch(context('silence')) },
      { name: 'sense', watch: sense },
      { name: 'stopping', watch: stopping },
      { name: 'bus', watch: new BusWatch(context('bus')) },
      { name: 'drive', watch: new DriveWatch(context('drive')) },
    ],
    sense,
    stopping,
  }
}

/**
 * Refuses watch settings that the rig makes senseless, all at once.
 * @throws DrystrokeError `file-invalid`
 */
export function checkWatchSettings(rig: Rig<WatchSettings>): void {
  const { limits, tracking } = rig.watch
  const errors = rig.joints.flatMap((joint) => {
    const floor = accelerationFloor(joint, rig.simulation.feedback.noise, rig.control.period, limits)
    const limit = joint.limits.acceleration
    if (limit > floor) return []
    return [
      `joint ${joint.name}: its acceleration limit of ${showQuantity(limit, 'rad/s2')} is below the noise floor of the ` +
        `acceleration, ${showQuantity(floor, 'rad/s2')}; expected a higher limit, an encoder with more counts, or a wider ` +
        `watch.limits.acceleration.window (now ${limits.acceleration.window})`,
    ]
  })
  for (const [name, lag] of Object.entries(tracking.lag.set)) {
    if (!rig.joints.some((j) => j.name === name)) {
      const names = rig.joints.map((j) => j.name).join(', ')
      errors.push(`watch.tracking.lag.set: there is no joint ${name}; expected one of ${names}`)
    } else if (lag > tracking.lag.most) {
      errors.push(
        `watch.tracking.lag.set: ${name} is set to ${showQuantity(lag, 's')}; expected at most ` +
          `watch.tracking.lag.most, ${showQuantity(tracking.lag.most, 's')}`,
      )
    }
  }
  const { warning, limit } = rig.watch.bus.load
  if (warning > limit) {
    errors.push(
      `watch.bus.load: the warning at ${showQuantity(warning, 'share')} is above the limit of ` +
        `${showQuantity(limit, 'share')}; expected it below`,
    )
  }
  if (errors.length > 0)
    throw new DrystrokeError('file-invalid', `rig ${rig.name}: ${errors.join('\n')}`, { rig: rig.name })
}
