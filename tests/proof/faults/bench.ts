/** Faults of the way between harness and driver, and of time. */
import type { FaultEntry } from '../faults.js'
import { AT_THE_END, about, cycle, entry, plain, stroke } from './terms.js'

export const BENCH_ENTRIES: readonly FaultEntry[] = [
  {
    ...entry(
      'commands-lost',
      'driver',
      plain,
      'sense',
      () => AT_THE_END,
      'A command that does not come shows when the next one should change the motion: at the latest when the craft should be at rest.',
    ),
    script: 'there and back',
  },
  {
    ...entry(
      'commands-late',
      'driver',
      () => [0.1, 0.5, 2],
      'driver',
      () => AT_THE_END,
      'How late a command is acted on shows at the next beginning from rest, which the script has ten seconds later; in motion the stroke hides half a second.',
    ),
    script: 'anew',
  },
  entry(
    'setpoints-stale',
    'driver',
    plain,
    'gate or setpoints',
    (rig) => stroke(rig) / 2,
    'In motion the gate does not let the same setpoint pass twice; near a turn setpoints cannot stand still for longer than a joint rests there.',
  ),
  entry(
    'setpoints-late',
    'driver',
    (rig) => about(4 * rig.control.period),
    'gate or setpoints',
    (rig) => stroke(rig),
    'The first setpoint that comes twice, which the gate does not let pass in motion, is the beginning of the delay: speed falls to nothing and comes back in one step.',
  ),
  entry(
    'no-number',
    'driver',
    plain,
    'gate',
    cycle,
    'The last gate holds back what is no number, and stops.',
  ),
  entry(
    'stall',
    'clock',
    (rig) => {
      const least = (rig.realtime.mostLate + 2) * rig.control.period
      return [rig.control.period, least, 4 * least]
    },
    'timing',
    (rig, time) => time + cycle(rig),
    'The first tick after the standstill knows how late it is, and how many were missed.',
  ),
  entry(
    'uneven',
    'clock',
    (rig) => [2 * rig.realtime.late, rig.control.period, 4 * rig.control.period],
    'timing',
    (rig) => 100 * rig.control.period,
    'Late ticks in a row stop the run as soon as there are more than the rig bears, else they are told at the end.',
  ),
  entry(
    'wall-step',
    'clock',
    () => [-3600, 3600, 86400],
    'none: the wall clock is in provenance.json alone, and nothing that is judged depends on it',
    cycle,
    'Times of a run are monotonic; a test holds that setting the wall clock changes no byte of frames, events and verdict.',
  ),
]
