/** How long `drystroke check demo` takes, beside a node process that does nothing: wall seconds, best of five each, by turns. */
import { spawnSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'

const main = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url))

function seconds(args) {
  const t0 = performance.now()
  const { status, stderr } = spawnSync(process.execPath, args, { encoding: 'utf8', maxBuffer: 1 << 26 })
  if (status !== 0) throw new Error(stderr)
  return (performance.now() - t0) / 1000
}

let [check, bare] = [Infinity, Infinity]
for (let i = 0; i < 5; i++) {
  bare = Math.min(bare, seconds(['-e', '0']))
  check = Math.min(check, seconds([main, 'check', 'demo']))
}
console.log(JSON.stringify({ check, bare }))
