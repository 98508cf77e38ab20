/**
 * Whether a run that candump listened to, in a process of its own, comes out the same when its frames are candump's instead of the
 * recording's: the same findings of the watches that see frames, at times within 2 ms; and whether frames alone, without the
 * run's events, make it incomplete.
 */
import { spawnSync } from 'node:child_process'
import { cpSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

/** ns */
const APART = 2e6
/**
 * Warnings that a loop gives when it reads feedback so late that the next SYNC has gone out: counted to the wrong SYNC. candump's log has
 * such frames where they belong: what was lost and doubled for the loop may be late by the log, or nothing, and most at another joint. A log
 * that has such warnings where the loop had none differs.
 */
const LATE_READ = ['feedback lost', 'feedback doubled', 'feedback late']
/** They live on what the loop says of itself, on what other processes say, or on how whole the log is. */
const NOT_OF_FRAMES = ['timing', 'guardian', 'log', 'sense']

/**
 * @param main of the command
 * @param log of candump
 * @returns what differs, one sentence each; the largest difference of a finding's time in ns; warnings of feedback read late; the verdict
 *   by the log
 */
export function judgedByLog(main, folder, log) {
  const judge = (...args) => {
    const { stdout, stderr } = spawnSync(process.execPath, [main, 'judge', ...args, '--json'], {
      encoding: 'utf8',
      maxBuffer: 1 << 28,
    })
    try {
      return { verdict: JSON.parse(stdout), says: stderr }
    } catch {
      throw new Error(`judge ${args.join(' ')} gave no verdict: ${stderr}`)
    }
  }
  const own = JSON.parse(readFileSync(join(folder, 'verdict.json'), 'utf8'))
  const work = mkdtempSync(join(tmpdir(), 'drystroke-by-log-'))
  try {
    const copy = join(work, 'run')
    cpSync(folder, copy, { recursive: true })
    const { verdict, says } = judge(copy, '--frames', log)
    rmSync(join(copy, 'events.jsonl'))
    const frames = judge(copy, '--frames', log).verdict
    const { differs, apart, late } = compare(own, verdict)
    if (verdict.outcome !== own.outcome) differs.push(`outcome ${own.outcome}, by the log ${verdict.outcome}`)
    if (frames.outcome !== 'incomplete') differs.push(`without events ${frames.outcome}, not incomplete`)
    return { differs, apart, late, findings: ofFrames(own).length, says, verdict }
  } finally {
    rmSync(work, { recursive: true, force: true })
  }
}

function ofFrames({ findings }) {
  return findings.filter((f) => !NOT_OF_FRAMES.includes(f.watch))
}

function isLateRead({ severity, quantity }) {
  return severity === 'warning' && LATE_READ.includes(quantity)
}

function compare(own, other) {
  const waiting = ofFrames(other)
  const differs = []
  let apart = 0
  let late = 0
  for (const f of ofFrames(own)) {
    const name = ({ watch, place, quantity, severity }) => `${watch} ${place} ${quantity} ${severity}`
    if (isLateRead(f)) {
      late++
      continue
    }
    const at = waiting.findIndex((g) => name(g) === name(f))
    if (at < 0) {
      differs.push(`not by the log: ${name(f)}`)
    } else {
      const [same] = waiting.splice(at, 1)
      apart = Math.max(apart, Math.abs(same.t - f.t))
      if (Math.abs(same.t - f.t) > APART)
        differs.push(`${name(f)}: ${((same.t - f.t) / 1e6).toFixed(3)} ms later by the log`)
    }
  }
  for (const f of waiting) {
    if (late > 0 && isLateRead(f)) continue
    differs.push(`only by the log: ${f.watch} ${f.place} ${f.quantity}: ${f.says}`)
  }
  return { differs, apart, late }
}
