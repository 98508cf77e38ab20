/** A process that plays jobs, one at a time, and answers each with its row. */
import { type Job, keyOf, runOf } from './jobs.js'
import { defectRow, type Row } from './rows.js'
import { runOnce } from './run.js'

const root = process.argv[2]!

function rowOf(job: Job): Row {
  const key = keyOf(job)
  try {
    return { key, ...runOnce(runOf(job, root)) }
  } catch (error) {
    return defectRow(key, error instanceof Error ? (error.stack ?? error.message) : String(error))
  }
}

process.on('message', (job: Job) => process.send!(rowOf(job)))
// The pool has gone: so do we.
process.on('disconnect', () => process.exit())
