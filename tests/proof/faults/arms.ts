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
    'drive',
    tracked,
    'Below 60 % the drives go into fault at once; above it they may fall behind where they are fastest, once a stroke.',
  ),
  entry(
    'loose',
    'arm',
    (rig) => about(window(rig) / 4),
    'smoothness',
    () => 2,
    'A line at 11 Hz in all joints of an arm is no harmonic of a stroke: it stands out within one or two seconds.',
  ),
  {
    name: 'swapped-sides',
    target: 'arm',
    severities: plain,
    expected: 'sense',
    detectWithin: (rig) => 1 + stroke(rig),
    why: 'The drives of one side move the other: truth and feedback part with the first motion, unless the set-up is refused before it.',
    faults: () => [one('swapped-sides', 0, FROM_POWER_ON)],
  },
]
