/** Progress of runs: one line that is written over on a terminal, a plain line each run elsewhere. */
import type { Scenario } from '../files/scenario.js'

export interface Progress {
  begin(scenario: Scenario, nth: number, of: number): void
  /** @param s scenario time, or null before it begins */
  at(s: number | null, stage: string): void
  end(outcome: string): void
}

const BAR = 24

export function progressOn(out: NodeJS.WriteStream): Progress {
  let scenario: Scenario | null = null
  let head = ''
  const line = (text: string): void => {
    if (out.isTTY) out.write(`\r\x1b[K${text.slice(0, (out.columns ?? 80) - 1)}`)
  }
  return {
    begin(next, nth, of) {
      scenario = next
      head = `${String(nth).padStart(String(of).length)} of ${of}  ${next.name}`
      line(head)
    },
    at(s, stage) {
      const { duration } = scenario!
      const share = s === null ? 0 : Math.min(1, s / duration)
      const full = Math.round(share * BAR)
      line(
        `${head.padEnd(34)} ${'='.repeat(full)}${'.'.repeat(BAR - full)} ${(s ?? 0).toFixed(1)} s of ${duration} s  ${stage}`,
      )
    },
    end(outcome) {
      if (out.isTTY) line('')
      else out.write(`${head}: ${outcome}\n`)
    },
  }
}
