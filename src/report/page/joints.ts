/** The section with each joint's picture, arm by arm. */
import { showQuantity } from '../../units.js'
import { jointFigure } from './joint-plot.js'
import { phrase } from './phrase.js'
import { idleSpans, jointMarks, judgedError, type ReportInput } from './run.js'
import { section } from './table.js'

const KEY: readonly (readonly [mark: string, words: string])[] = [
  ['<path class="setpoint" d="M4 7H32"/>', 'setpoint (broad)'],
  ['<path class="feedback" d="M4 7H32"/>', 'feedback (thin)'],
  [
    '<path class="error" d="M4 7l7-4 7 7 7-6 7 3-7-1-7 5-7-7z"/>',
    'following error, raw: setpoint minus feedback',
  ],
  ['<path class="limit" d="M2 7H34"/>', 'position limit'],
  ['<path class="stop" d="M18 0V14"/>', 'stop'],
  ['<path class="finding" d="M18 0V14"/>', 'failure, with its number'],
  ['<path class="notice" d="M18 0V14"/>', 'warning, doubt or expected failure, with its number'],
  ['<path class="fault" d="M18 0V14"/>', 'scripted fault'],
  ['<rect class="idle" width="36" height="14"/><path class="bound" d="M35 0V14"/>', 'not playing'],
]

export function joints(run: ReportInput): string {
  const { rig, trace, verdict } = run
  const idles = idleSpans(run)
  const key = KEY.map(
    ([mark, words]) => `<li><svg viewBox="0 0 36 14" aria-hidden="true">${mark}</svg>${words}</li>`,
  )
  const arms = rig.arms.map((arm) => {
    const figures = arm.joints.map((index) => {
      const joint = rig.joints[index]!
      const zero = verdict.zero ?? 0
      return jointFigure({
        id: `joint-${index}`,
        joint,
        trace,
        zero,
        marks: jointMarks(run, joint),
        idles,
        judged: judgedError(run, joint),
      })
    })
    return `<h3>Arm ${phrase(arm.name)}</h3>\n<div class="joints">${figures.join('')}</div>\n`
  })
  const zero =
    verdict.zero === null ? 'the start of the run, as the scenario never began' : 'the start of the scenario'
  const note = `<p class="soft">Above: position, deg. Below: raw following error, deg; it contains the lag, which is no fault. The limit is held against the error with the measured lag removed: its greatest value stands beside each joint's name, all of it under <a href="#figures">Figures</a>. Each curve shows the least and the greatest value in every span of ${showQuantity(trace.bin / 1e9, 's')}, so no peak is lost. Time counts from ${zero}.</p>`
  return section('joints', 'Joints', `${note}<ul class="key">${key.join('')}</ul>\n${arms.join('')}`)
}
