/**
 * How long `drystroke check demo` takes, beside a node process that does nothing: seconds by the wall and of processor time (all
 * threads), best of five each, by turns.
 */
import { spawnSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'

const main = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url))
// Told by the process itself as it ends: others on the machine do not count.
const TELL =
  'data:text/javascript,import fs from "node:fs";process.on("exit",()=>{const{user,system}=process.cpuUsage();fs.writeSync(2,String((user+system)/1e6))})'

function seconds(args) {
  const t0 = performance.now()
  const options = { encoding: 'utf8', maxBuffer: 1 << 26 }
  const { status, stderr } = spawnSync(process.execPath, ['--import', TELL, ...args], options)
  const wall = (performance.now() - t0) / 1000
  if (status !== 0) throw new Error(stderr)
  return { wall, processor: Number(stderr) }
}

const least = (a, b) => ({ wall: Math.min(a.wall, b.wall), processor: Math.min(a.processor, b.processor) })
const endless = { wall: Infinity, processor: Infinity }
let [check, bare] = [endless, endless]
for (let i = 0; i < 5; i++) {
  bare = least(bare, seconds(['-e', '0']))
  check = least(check, seconds([main, 'check', 'demo']))
}
console.log(
  JSON.stringify({
    ...{ check: check.wall, checkProcessor: check.processor },
    ...{ bare: bare.wall, bareProcessor: bare.processor },
  }),
)
