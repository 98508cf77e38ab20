/** Faults of a whole arm. */
import type { FaultEntry } from '../faults.js'
import { about, cycle, entry, FROM_POWER_ON, one, plain, stroke, tracked, window } from './terms.js'

export const ARM_ENTRIES: readonly FaultEntry[] = [
  entry(
    'dead',
    'arm',
    plain,
    'silence',
    (rig) => rig.watch.silence.periods * rig.control.period + cycle(rig),
    'The feedback of a whole arm is missed as that of one joint is.',
  ),
  entry(
    'supply-sagging',
    'arm',
    () => [0.9, 0.5, 0.3],
    'drive or health',
    tracked,
    'Below 60 % the drives go into fault at once; above it they report it, and may fall behind where they are fastest, once a stroke.',
  ),
  entry(
    'loose',
    'arm',
    (rig) => about(window(rig) / 4),
    'vibration or limits',
    () => 2,
    'A line at 11 Hz in all joints of an arm is no harmonic of a stroke: it stands out within one or two seconds, unless its acceleration, which was not asked for, is beyond the limit before.',
  ),
  {
    name: 'swapped-sides',
    target: 'arm',
    severities: plain,
    expected: 'sense or drive',
    detectWithin: (rig) => 1 + stroke(rig),
    why: 'The drives of one side move the other: truth and feedback part with the first motion, unless the set-up is refused before it, because a joint stands outside its limits as its binding reads it.',
    faults: () => [one('swapped-sides', 0, FROM_POWER_ON)],
  },
]
