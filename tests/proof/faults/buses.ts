/** Faults of a bus and of the harness's end of it. */
import type { FaultEntry } from '../faults.js'
import { cycle, entry, plain } from './terms.js'

/** s: 16 frames that fail make error passive, 32 bus-off (ISO 11898-1: 8 for each, 128 and 256); each cycle offers a dozen. */
const confined = (rig: Parameters<FaultEntry['severities']>[0]): number => 32 * rig.control.period

export const BUS_ENTRIES: readonly FaultEntry[] = [
  entry(
    'down',
    'bus',
    plain,
    'bus',
    cycle,
    'The interface itself reports that it is down, and refuses the next frame.',
  ),
  entry(
    'unplugged',
    'bus',
    plain,
    'bus',
    confined,
    'Frames that nobody acknowledges make the controller error passive within one or two cycles.',
  ),
  entry(
    'gone',
    'bus',
    plain,
    'bus',
    cycle,
    'The adapter is reported as gone, and the next frame is refused.',
  ),
  entry(
    'disturbed',
    'bus',
    () => [0.01, 0.1, 0.4],
    'bus',
    cycle,
    'The controller reports each run of errors as it begins; how soon one is hit is chance, in a cycle of two dozen frames not late.',
  ),
  entry(
    'bus-off',
    'bus',
    plain,
    'bus',
    confined,
    'The controller switches itself off after 32 frames that failed, and reports it.',
  ),
  entry(
    'unacknowledged',
    'bus',
    plain,
    'bus',
    confined,
    'Frames that nobody acknowledges make the controller error passive within one or two cycles.',
  ),
  entry(
    'wrong-bitrate',
    'bus',
    plain,
    'bus',
    confined,
    'All that it sends or hears is an error to the controller: it is error passive within a cycle and off within a few.',
  ),
  entry(
    'queue-full',
    'bus',
    () => [6, 2, 0],
    'bus',
    cycle,
    'The frame that finds no room is refused, and that is a stop; with room for a cycle nothing happens.',
  ),
  entry(
    'overflow',
    'bus',
    (rig) => [1, 6 * rig.watch.silence.periods, 600],
    'bus',
    cycle,
    'The adapter reports an overflow as the first frame is lost.',
  ),
  entry(
    'batched',
    'bus',
    (rig) => [1.2 * rig.control.period, 0.016, 0.05],
    'silence',
    (rig, every) => every + rig.watch.silence.periods * rig.control.period + cycle(rig),
    'Feedback that waits for its batch is older than the watch bears, or at least late after the next SYNC.',
  ),
  entry(
    'stray',
    'bus',
    () => [1, 10, 200],
    'bus',
    cycle,
    'The first frame that the rig does not explain is told.',
  ),
  entry(
    'second-master',
    'bus',
    () => [1, 10, 200],
    'bus',
    cycle,
    'The first frame that only the harness may send stops the run.',
  ),
  entry(
    'flooded',
    'bus',
    (rig) => [rig.watch.bus.load.warning, rig.watch.bus.load.limit, 1],
    'bus',
    () => 2,
    'Load is taken over one second, in steps of 10 ms; its frames are none of the rig, which is told at once.',
  ),
]
