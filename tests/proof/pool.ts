/** Worker processes that play jobs. One that dies or does not answer is a row of its own, and another takes its place. */
import { type ChildProcess, fork } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { type Job, keyOf } from './jobs.js'
import { defectRow, type Row } from './rows.js'

/** ms that a job may take, on a machine that does much else besides */
const PATIENCE = 180_000

export interface Play {
  readonly jobs: readonly Job[]
  /** Folder of the checkout. */
  readonly root: string
  readonly workers: number
  /** No job is begun any more once this says so. */
  readonly enough: () => boolean
  readonly onRow: (row: Row) => void
}

/** Resolves when no worker is at work any more. */
export async function playJobs({ jobs, root, workers, enough, onRow }: Play): Promise<void> {
  let next = 0
  const work = async (): Promise<void> => {
    let child: ChildProcess | null = null
    while (next < jobs.length && !enough()) {
      const job = jobs[next++]!
      child ??= fork(fileURLToPath(new URL('worker.js', import.meta.url)), [root], {
        execArgv: ['--max-semi-space-size=16'],
      })
      const row = await played(child, job)
      if (row === null) {
        onRow(defectRow(keyOf(job), `its process died, or did not answer within ${PATIENCE / 1000} s`))
        child.kill('SIGKILL')
        child = null
      } else onRow(row)
    }
    child?.disconnect()
  }
  await Promise.all(Array.from({ length: workers }, work))
}

/** null: no answer */
function played(child: ChildProcess, job: Job): Promise<Row | null> {
  return new Promise((resolve) => {
    const end = (row: Row | null): void => {
      clearTimeout(timer)
      child.removeAllListeners()
      resolve(row)
    }
    const timer = setTimeout(() => end(null), PATIENCE)
    child.once('message', (row: Row) => end(row))
    child.once('exit', () => end(null))
    child.once('error', () => end(null))
    child.send(job, (error) => {
      if (error) end(null)
    })
  })
}
