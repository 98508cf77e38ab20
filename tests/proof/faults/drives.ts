/** Faults of what moves, and of what drives do. Some show only in a stop: then another drive trips a little later. */
import type { FaultEntry } from '../faults.js'
import {
  AT_THE_END,
  about,
  cycle,
  entry,
  first,
  one,
  plain,
  stopped,
  stroke,
  tracked,
  window,
} from './terms.js'
import { mostBurdened } from './weight.js'

/** s from the fault to the stop that it shows in */
const STOP_AFTER = 0.5
/** s after that stop, until drives that do not obey it are known: it escalates at its time-out. */
const escalated = (rig: Parameters<FaultEntry['severities']>[0]): number =>
  STOP_AFTER + rig.stop.timeout + cycle(rig)
/** s until what sinks or moves after a stop is known: the joints are still, and the time in which sag is looked for is over. */
const sagged = (rig: Parameters<FaultEntry['severities']>[0]): number =>
  escalated(rig) + rig.watch.stopping.margin + rig.stop.sagWindow

export const DRIVE_ENTRIES: readonly FaultEntry[] = [
  entry(
    'jammed',
    'joint',
    plain,
    'feedback or limits or tracking',
    (rig) => stroke(rig) / 2,
    'In motion it stops at once, which is beyond its acceleration limit and was not asked for; near a turn the setpoint leaves it within half a stroke.',
  ),
  entry(
    'slipping',
    'joint',
    () => [0.1, 0.3, 0.8],
    'sense',
    (rig) => stroke(rig),
    'Behind the encoder only the truth tells: within a stroke the way that is lost one way is a good part of the swing.',
  ),
  entry(
    'backlash',
    'joint',
    (rig) => about(window(rig) / 1.5),
    'reversal or tracking',
    (rig) => 2 * stroke(rig),
    'At each turn the joint stays behind by half the play; below the window only the reversal error shows it, which needs two turns.',
  ),
  entry(
    'trembling',
    'joint',
    (rig) => about(window(rig) / 3),
    'vibration or limits',
    () => 2,
    'A line at 17 Hz is no harmonic of a stroke: it stands out of the residual within one or two seconds; its acceleration, (2 pi f)^2 times the angle, may be beyond the limit before that, and was not asked for.',
  ),
  {
    ...entry(
      'stiff',
      'joint',
      () => [0.1, 0.3, 0.7],
      'load or tracking',
      () => AT_THE_END,
      'The torque that the drive reports is off the model by the friction; that is told at the end of the run; with little torque left the joint falls behind.',
      'from power-on',
    ),
    // The load watch tells of a whole run, and of none in which a fault was played meanwhile: the joint rubs from the beginning.
    plant: 'afloat',
  },
  stopped(
    entry(
      'brakeless',
      'joint',
      plain,
      'stopping',
      sagged,
      'A joint that sinks without power does so in the sag window after the stop.',
    ),
    STOP_AFTER,
  ),
  stopped(
    entry(
      'kicking',
      'joint',
      (rig) => about(2 * rig.stop.sag),
      'stopping',
      sagged,
      'A joint that springs off as its power goes is off its place by more than the sag that passes, in the sag window at the latest.',
    ),
    STOP_AFTER,
  ),
  {
    name: 'pushed',
    target: 'joint',
    severities: (rig) => about(2 * rig.stop.still.speed),
    expected: 'stopping',
    detectWithin: (rig, speed) => sagged(rig) + Math.max(rig.watch.stopping.motion, rig.stop.sag) / speed,
    why: 'A joint that moves without power is not still, or sinks, or moves after the sag window by more than passes.',
    faults: (rig, speed, at) => [
      one('tripped', first(rig, rig.arms.length - 1), at),
      one('pushed', first(rig), at + STOP_AFTER, speed),
    ],
  },
  {
    name: 'weak',
    target: 'joint',
    severities: (rig) => {
      const { share } = mostBurdened(rig)
      return [1.5 * share, 0.75 * share, 0.3 * share]
    },
    expected: 'tracking',
    detectWithin: tracked,
    plant: 'afloat',
    why: 'A joint that cannot bear the weight of its arm sinks away from its setpoint at once; one that can, and no more, falls behind where it turns round or where the water asks for the most, if at all.',
    faults: (rig, share, at) => [one('weak', mostBurdened(rig).joint, at, share)],
  },
  entry(
    'hot',
    'joint',
    () => [4, 2, 0.5],
    'drive or health',
    (rig, time) => time + cycle(rig),
    'At the end the drive goes into fault, with an emergency message; before that it reports how hot it is, and may fall behind.',
  ),
  entry(
    'lagging',
    'joint',
    (rig) => [0.02, rig.watch.tracking.lag.most, 3 * rig.watch.tracking.lag.most],
    'tracking or limits',
    tracked,
    'The setpoints that it waits for stop the joint as nobody asked it to, or, where it is slow then: the lag was learned before, what is added is an error of speed times delay, beyond the window where the joint is fastest.',
  ),
  entry(
    'tripped',
    'joint',
    plain,
    'drive',
    cycle,
    'The emergency message, or the state in the next feedback, tells.',
  ),
  stopped(
    entry(
      'stop-ignored',
      'joint',
      plain,
      'stopping',
      escalated,
      'A drive that has not said that it obeys by the time-out of the stop is disabled, and that is told.',
    ),
    STOP_AFTER,
  ),
  stopped(
    entry(
      'stop-missed',
      'joint',
      () => [1, 3, 10],
      'stopping',
      escalated,
      'The command is said again until the drive obeys; the time to still grows by each that is missed, and the time-out ends it.',
    ),
    STOP_AFTER,
  ),
  {
    name: 'running-on',
    target: 'joint',
    severities: (rig) => [0.05, 0.2, rig.stop.timeout],
    expected: 'stopping',
    detectWithin: (rig, time) => time + rig.stop.timeout + rig.watch.stopping.margin,
    why: 'The joint moves on after the stop by speed times time, and the stop lasts as much longer; beyond its time-out that fails.',
    faults: (rig, time, at) => [one('running-on', first(rig), at, time), one('tripped', first(rig), at)],
  },
  {
    name: 'unguarded',
    target: 'joint',
    severities: plain,
    expected:
      'none: nothing on the bus tells of it while the link is there, and without the link nothing tells at all',
    detectWithin: cycle,
    why: 'Only the truth shows that the joint keeps its torque on a bus that is gone; the loss of the bus itself is caught.',
    faults: (rig, _, at) => [
      one('unguarded', first(rig), at),
      one('gone', rig.joints[first(rig)]!.wire.bus, at + STOP_AFTER),
    ],
  },
]
