/** report.html: one file that shows a run to a person. No script, nothing loaded from anywhere. */
import { OUTCOME_WORD } from '../wording.js'
import { pageOf } from './document.js'
import { joints } from './joints.js'
import type { ReportInput } from './run.js'
import {
  cautions,
  expectations,
  figures,
  findings,
  head,
  provenance,
  script,
  separationSection,
  stopSection,
} from './sections.js'
import { settings } from './settings.js'

export type { ReportInput } from './run.js'

/** The whole page. Everything that comes from files or the bus is escaped. */
export function reportHtml(run: ReportInput): string {
  const { verdict } = run
  const title = `${OUTCOME_WORD[verdict.outcome]}: ${verdict.scenario} on ${verdict.rig}`
  return pageOf(
    title,
    `${head(run)}${expectations(verdict)}${stopSection(verdict)}${findings(verdict)}${script(run)}${joints(run)}${figures(verdict)}${settings(run.settings)}${separationSection(run)}${cautions(run)}${provenance(run)}`,
  )
}
