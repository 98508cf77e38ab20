/** The table of measured stops for a terminal. */
import { showQuantity } from '../units.js'
import { SIMULATED_CAUTION } from '../verdict/cautions.js'
import type { Measure, Summary } from '../verdict/stop-table.js'
import { CATEGORY_MEANS } from './category.js'
import { wrap } from './wrap.js'

const NAME: Record<Measure, string> = {
  timeToStill: 'time to still',
  jointTravel: 'joint travel',
  bladeTravel: 'blade travel',
}
const UNIT = { timeToStill: 's', jointTravel: 'rad', bladeTravel: 'm' } as const

/** Said beside every figure of a stop by bus. */
export const NO_DISTANCE =
  'These are stops by bus. No separation distance may rest on them: only on the overall stopping time of the hard-wired stop, see drystroke separation.'

export interface StopTable {
  readonly rig: string
  readonly category: 0 | 1
  readonly phases: number
  readonly speeds: readonly {
    readonly share: number
    readonly speed: number
    readonly summaries: readonly Summary[]
    readonly notPassed: readonly { readonly scenario: string; readonly sentence: string }[]
  }[]
}

/** Ends with a newline. */
export function stopTable(table: StopTable, width: number): string {
  const { rig, category, phases, speeds } = table
  const lines = [
    ...wrap(
      `Stops of ${rig}, ahead, ${phases} places of the stroke at each speed. SIMULATED ARMS.`,
      width,
      0,
    ),
    ...wrap(`Category ${category}: ${CATEGORY_MEANS[category]}.`, width, 0),
    '',
    row(['speed', '', 'worst', 'at phase', 'of', 'mean + 3 s', 'n']),
    '-'.repeat(79),
  ]
  for (const { share, speed, summaries, notPassed } of speeds) {
    summaries.forEach(({ measure, worst, meanPlus3Sigma, n }, i) => {
      const shown = (v: number): string => showQuantity(v, UNIT[measure])
      lines.push(
        row([
          i === 0 ? `${Math.round(100 * share)} %` : i === 1 ? showQuantity(speed, 'm/s') : '',
          NAME[measure],
          shown(worst.value),
          worst.phase.toFixed(3),
          worst.place,
          meanPlus3Sigma === null ? '-' : shown(meanPlus3Sigma),
          String(n),
        ]),
      )
    })
    if (summaries.length === 0) lines.push(row([`${Math.round(100 * share)} %`, 'no stop came to rest']))
    for (const { scenario, sentence } of notPassed)
      lines.push(...wrap(`${scenario}: ${sentence}`, width, 2, 4))
  }
  lines.push(
    '-'.repeat(79),
    ...wrap(
      's: sample standard deviation over the places of the stroke. Joint travel and blade travel: the greatest distance from where it was at the stop; of the blade the corner of the tip that went farther. Phase: 0 catch, 0.5 exit.',
      width,
      0,
    ),
    '',
    ...wrap(`${SIMULATED_CAUTION} ${NO_DISTANCE}`, width, 0),
  )
  return `${lines.join('\n')}\n`
}

const WIDTHS = [10, 15, 10, 10, 20, 12, 2]

function row(cells: readonly string[]): string {
  return cells
    .map((cell, i) => cell.padEnd(WIDTHS[i]!))
    .join('')
    .trimEnd()
}
