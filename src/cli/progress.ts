/** Progress of runs: one line that is written over on a terminal, a plain line each run elsewhere. */
import type { Scenario } from '../files/scenario.js'
import { canRewrite } from './screen.js'

export interface Progress {
  begin(scenario: Scenario, nth: number, of: number): void
  /** @param s scenario time, or null before it begins */
  at(s: number | null, stage: string): void
  /** Says something on a line of its own. */
  say(text: string): void
  end(outcome: string): void
  /** Takes the line away. */
  clear(): void
}

/** @param hint what a person may do meanwhile, shown with it; may differ by stage */
export function progressOn(
  out: NodeJS.WriteStream,
  hint: string | ((stage: string) => string) = '',
): Progress {
  const hintAt = typeof hint === 'string' ? () => hint : hint
  let scenario: Scenario | null = null
  let head = ''
  const rewrites = canRewrite(out)
  const line = (text: string): void => {
    if (rewrites) out.write(`\r\x1b[K${text}`)
  }
  return {
    begin(next, nth, of) {
      scenario = next
      head = `${String(nth).padStart(String(of).length)} of ${of}  ${next.name}`
      line(
        progressLine(
          { head, s: null, duration: next.duration, stage: '', hint: hintAt('') },
          out.columns || 80,
        ),
      )
    },
    at(s, stage) {
      line(
        progressLine(
          { head, s, duration: scenario!.duration, stage, hint: hintAt(stage) },
          out.columns || 80,
        ),
      )
    },
    say(text) {
      line('')
      out.write(`${text}\n`)
    },
    clear: () => line(''),
    end(outcome) {
      if (rewrites) line('')
      else out.write(`${head}: ${outcome}\n`)
    },
  }
}

const LONGEST_BAR = 24
/** A shorter bar says nothing. */
const SHORTEST_BAR = 6
const LONGEST_STAGE = 8

/**
 * `3 of 15  slow-ahead  =====.... 12.3 s of 25 s  play` in less than `columns`. Where room is short the bar goes first,
 * then the name is cut: time and stage stay.
 * @param s scenario time, null: it has not begun; @param hint stands last, and is never cut before the name
 */
export function progressLine(
  {
    head,
    s,
    duration,
    stage,
    hint = '',
  }: { head: string; s: number | null; duration: number; stage: string; hint?: string },
  columns: number,
): string {
  // The last column stays free: writing into it makes some terminals go to the next line.
  const room = Math.max(0, columns - 1)
  const whole = duration.toFixed(1).length
  const tail = ` ${(s ?? 0).toFixed(1).padStart(whole)} s of ${duration} s  ${stage.padEnd(LONGEST_STAGE)}${hint && `  ${hint}`}`
  const left = room - tail.length
  const shown = head.length > left ? `${head.slice(0, Math.max(0, left - 2))}..` : head
  const bar = Math.min(LONGEST_BAR, left - shown.length - 2)
  if (bar < SHORTEST_BAR) return `${shown}${tail}`.slice(0, room).trimEnd()
  const full = Math.round(Math.min(1, (s ?? 0) / duration) * bar)
  const name = shown.padEnd(Math.min(34, left - bar - 2))
  return `${name}  ${'='.repeat(full)}${'.'.repeat(bar - full)}${tail}`.trimEnd()
}
