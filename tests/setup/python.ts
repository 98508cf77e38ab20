/** Runs a script in Debian's own Python, JSON in and out: the second route of tests that compare with numpy and scipy. */
import { spawnSync } from 'node:child_process'

/** @param script reads `json.load(sys.stdin)` and writes `json.dump(result, sys.stdout)` */
export function python<Result>(script: string, job: unknown): Result {
  const plain = (_: string, value: unknown) => (value instanceof Float64Array ? [...value] : value)
  const run = spawnSync('/usr/bin/python3', ['-c', script], {
    input: JSON.stringify(job, plain),
    encoding: 'utf8',
    maxBuffer: 1e8,
  })
  if (run.status !== 0) throw new Error(run.stderr)
  return JSON.parse(run.stdout)
}
