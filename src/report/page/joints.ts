/** The section with each joint's picture, arm by arm. */
import { escaped } from '../markup.js'
import { jointFigure } from './joint-plot.js'
import { errorLimit, idleSpans, jointMarks, type ReportInput } from './run.js'
import { section } from './table.js'

const KEY: readonly (readonly [mark: string, words: string])[] = [
  ['<path class="setpoint" d="M4 7H32"/>', 'setpoint (broad)'],
  ['<path class="feedback" d="M4 7H32"/>', 'feedback (thin)'],
  ['<path class="error" d="M4 7l7-4 7 7 7-6 7 3-7-1-7 5-7-7z"/>', 'following error: setpoint minus feedback'],
  ['<path class="limit" d="M2 7H34"/>', 'limit'],
  ['<path class="stop" d="M18 0V14"/>', 'stop'],
  ['<path class="finding" d="M18 0V14"/>', 'failure, with its number'],
  ['<path class="notice" d="M18 0V14"/>', 'warning or doubt, with its number'],
  ['<path class="fault" d="M18 0V14"/>', 'scripted fault'],
  [
    '<rect class="idle" width="36" height="14"/><path class="bound" d="M35 0V14"/>',
    'before and after the scenario',
  ],
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
        errorLimit: errorLimit(run, joint),
      })
    })
    return `<h3>Arm ${escaped(arm.name)}</h3>\n<div class="joints">${figures.join('')}</div>\n`
  })
  const zero =
    verdict.zero === null ? 'the start of the run, as the scenario never began' : 'the start of the scenario'
  const note = `<p class="soft">Above: position, deg. Below: following error, deg. Each curve shows the least and the greatest value in every span of ${(trace.bin / 1e6).toFixed(1)} ms, so no peak is lost. Time counts from ${zero}.</p>`
  return section('joints', 'Joints', `${note}<ul class="key">${key.join('')}</ul>\n${arms.join('')}`)
}
