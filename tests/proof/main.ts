/**
 * The proof that the watches catch what breaks and are quiet where nothing does: every fault and every broken driver at three
 * severities, and clean runs. Writes proof.html, proof.json and the rows (of which it goes on when it was broken off) to a folder.
 *
 *   npm run proof -- [--set tuning|held-out] [--out FOLDER] [--clean 1000] [--seeds 4] [--workers 2] [--minutes 20]
 *
 * Exit status: 0 all aims are met, 1 not all, 2 usage, 4 it was not whole within its time.
 */
import { createHash } from 'node:crypto'
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { type Extent, jobsOf, keyOf, SETS, type SetName } from './jobs.js'
import { type Matrix, matrixOf } from './matrix.js'
import { proofHtml } from './page.js'
import { playJobs } from './pool.js'
import { proofRig, RIGS } from './rigs.js'
import { Rows } from './rows.js'
import { matrixText } from './text.js'

/** Of the checkout: this file is compiled to .proof/tests/proof. */
const root = fileURLToPath(new URL('../../../', import.meta.url))

const { values } = parseArgs({
  options: {
    set: { type: 'string', default: 'held-out' },
    out: { type: 'string', default: join(root, 'recordings/proof') },
    clean: { type: 'string', default: '1000' },
    seeds: { type: 'string', default: '4' },
    workers: { type: 'string', default: String(availableParallelism()) },
    minutes: { type: 'string', default: '20' },
  },
})

function usage(says: string): never {
  console.error(says)
  process.exit(2)
}

function whole(name: 'clean' | 'seeds' | 'workers' | 'minutes', least: number): number {
  const n = Number(values[name])
  if (!Number.isInteger(n) || n < least)
    usage(`--${name} is ${values[name]}; give a whole number of ${least} or more`)
  return n
}

if (!(values.set in SETS)) usage(`--set is ${values.set}; give one of ${Object.keys(SETS).join(', ')}`)
const extent: Extent = { set: values.set as SetName, clean: whole('clean', 0), seeds: whole('seeds', 1) }
const workers = whole('workers', 1)
const minutes = whole('minutes', 1)
const out = resolve(values.out)
mkdirSync(out, { recursive: true })

/** Of all that decides what a run comes to. */
function digestOf(folders: readonly string[]): string {
  const hash = createHash('sha256')
  for (const folder of folders) {
    const names = readdirSync(folder, { recursive: true, encoding: 'utf8' })
    for (const name of names.filter((n) => /\.(js|yaml|urdf)$/.test(n)).sort())
      hash.update(name).update(readFileSync(join(folder, name)))
  }
  return hash.digest('hex')
}

const digest = digestOf([fileURLToPath(new URL('../../', import.meta.url)), join(root, 'rigs')])
const watch = RIGS.map((name) => proofRig(root, name).watch)
const thresholds = createHash('sha256').update(JSON.stringify(watch)).digest('hex')

const rows = new Rows(join(out, `rows-${extent.set}.jsonl`), digest)
const jobs = jobsOf(extent)
const left = jobs.filter((job) => rows.get(keyOf(job)) === undefined)
const began = performance.now()
console.log(
  `${jobs.length} runs on the ${extent.set} seeds, ${jobs.length - left.length} of them done; ${workers} at a time`,
)
let told = began
await playJobs({
  jobs: left,
  root,
  workers,
  enough: () => performance.now() - began > minutes * 60_000,
  onRow: (row) => {
    rows.add(row)
    const now = performance.now()
    if (now - told < 15_000) return
    told = now
    console.log(`${rows.size} of ${jobs.length} after ${((now - began) / 1000).toFixed(0)} s`)
  },
})

const took = (performance.now() - began) / 1000
const matrix: Matrix = matrixOf({ extent, rig: proofRig(root, 'skiff'), rows: rows.all, thresholds, digest })
writeFileSync(join(out, 'proof.json'), `${JSON.stringify(matrix, finite, 2)}\n`)
writeFileSync(join(out, 'proof.html'), proofHtml(matrix))
process.stdout.write(matrixText(matrix))
console.log(
  `${matrix.runs.done} of ${matrix.runs.planned} runs; these took ${took.toFixed(0)} s. ${join(out, 'proof.html')}`,
)
process.exitCode = matrix.runs.done < matrix.runs.planned ? 4 : matrix.aims.every((a) => a.met) ? 0 : 1

/** JSON has no infinity: a severity that lasts to the end is a word. */
function finite(_: string, value: unknown): unknown {
  return value === Number.POSITIVE_INFINITY ? 'to the end' : value
}
