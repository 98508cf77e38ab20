/** The table of measured stops for a terminal. */
import { showQuantity } from '../units.js'
import { SIMULATED_CAUTION } from '../verdict/cautions.js'
import type { Measure, StopMotion, Summary } from '../verdict/stop-table.js'
import { CATEGORY_MEANS } from './category.js'
import { wrap } from './wrap.js'

const NAME: Record<Measure, string> = {
  timeToStill: 'time to still',
  jointTravel: 'joint travel',
  bladeTravel: 'blade travel',
}
const UNIT = { timeToStill: 's', jointTravel: 'rad', bladeTravel: 'm' } as const

const MOTION: Record<StopMotion, string> = {
  ahead: 'ahead',
  astern: 'astern',
  'pivot-to-port': 'to port',
  'pivot-to-starboard': 'to starboard',
}

/** Said beside every figure of a stop by bus. */
export const NO_DISTANCE =
  'These are stops by bus. No separation distance may rest on them: only on the overall stopping time of the hard-wired stop, see drystroke separation.'

export interface StopTable {
  readonly rig: string
  readonly category: 0 | 1
  readonly motions: readonly StopMotion[]
  readonly phases: number
  readonly speeds: readonly {
    readonly share: number
    readonly speed: number
    /** Of every stop that was played. */
    readonly stops: readonly unknown[]
    readonly summaries: readonly Summary[]
    readonly notPassed: readonly { readonly scenario: string; readonly sentence: string }[]
  }[]
}

/** Ends with a newline. */
export function stopTable(table: StopTable, width: number): string {
  const { rig, category, motions, phases, speeds } = table
  const lines = [
    ...wrap(
      `Stops of ${rig}, ${motions.map((m) => m.replaceAll('-', ' ')).join(', ')}: ${phases} places of the stroke of each at each speed. SIMULATED ARMS.`,
      width,
      0,
    ),
    ...wrap(`Category ${category}: ${CATEGORY_MEANS[category]}.`, width, 0),
    '',
    row(['speed', '', 'worst', 'motion', 'phase', 'of', 'mean+3s']),
    '-'.repeat(79),
  ]
  for (const { share, speed, stops, summaries, notPassed } of speeds) {
    summaries.forEach(({ measure, worst, meanPlus3Sigma, spreads }, i) => {
      const shown = (v: number): string => showQuantity(v, UNIT[measure])
      lines.push(
        row([
          i === 0 ? `${Math.round(100 * share)} %` : i === 1 ? showQuantity(speed, 'm/s') : '',
          NAME[measure],
          shown(worst.value),
          MOTION[worst.motion],
          worst.phase.toFixed(3),
          worst.place,
          meanPlus3Sigma === null ? '-' : shown(meanPlus3Sigma),
        ]),
      )
      const n = spreads.reduce((sum, s) => sum + s.n, 0)
      if (n < stops.length)
        lines.push(...wrap(`${NAME[measure]}: only ${n} of ${stops.length} stops give it`, width, 2, 4))
    })
    if (summaries.length === 0) lines.push(row([`${Math.round(100 * share)} %`, 'no stop came to rest']))
    for (const { scenario, sentence } of notPassed)
      lines.push(...wrap(`${scenario}: ${sentence}`, width, 2, 4))
  }
  lines.push(
    '-'.repeat(79),
    ...wrap(
      'Worst: of all motions. mean+3s: s is the sample standard deviation over the places of the stroke; of the motion where mean + 3 s is greatest. To port, to starboard: a turn on the spot. Joint travel and blade travel: the greatest distance from where it was at the stop; of the blade the corner of the tip that went farther. Phase: of the port side (of starboard where port has no arm), 0 catch, 0.5 exit; astern it runs back.',
      width,
      0,
    ),
    '',
    ...wrap(`${SIMULATED_CAUTION} ${NO_DISTANCE}`, width, 0),
  )
  return `${lines.join('\n')}\n`
}

const WIDTHS = [9, 14, 9, 13, 6, 18, 10]

function row(cells: readonly string[]): string {
  return cells
    .map((cell, i) => cell.padEnd(WIDTHS[i]!))
    .join('')
    .trimEnd()
}
