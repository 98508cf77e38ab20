/**
 * Plays a scenario for some minutes; prints speed by the wall and by the processor (all threads), frames and greatest memory.
 * Arguments: folder, minutes, name, scenario (slow-ahead, or another that goes on at one command from its first seconds to 20 s).
 */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { playScenario } from '../../dist/bench/play.js'
import { loadRig, loadScenario } from '../../dist/files/load.js'
import { openRecording } from '../../dist/record/read.js'
import { watchSchemas } from '../../dist/watch/settings.js'

const root = fileURLToPath(new URL('../../', import.meta.url))
const [out, minutes, name = 'run', played = 'slow-ahead'] = process.argv.slice(2)
const rigFile = join(root, 'rigs/reservoir-skiff.yaml')
const rigText = readFileSync(rigFile, 'utf8')
const rig = loadRig(rigText, rigFile, watchSchemas)
const scenarioFile = join(root, `scenarios/${played}.yaml`)
const seconds = 60 * Number(minutes)
const scenarioText = readFileSync(scenarioFile, 'utf8')
  .replace(/^duration: .*/m, `duration: "${seconds} s"`)
  .replace(/at: "20 s"/, `at: "${seconds - 5} s"`)
const scenario = loadScenario(scenarioText, scenarioFile, rig)

const t0 = performance.now()
const before = process.cpuUsage()
const { folder, verdict } = await playScenario({
  ...{ rig, rigText, rigFile, scenario, scenarioText, scenarioFile },
  outDir: join(out, `${name}-${minutes}`),
  seed: 1,
})
const wall = (performance.now() - t0) / 1000
const { user, system } = process.cpuUsage(before)
const cpu = (user + system) / 1e6
const maxRss = process.resourceUsage().maxRSS * 1024
if (verdict.outcome !== 'pass') throw new Error(verdict.sentence)
let frames = 0
openRecording(folder).replay({ frame: () => frames++, event: () => {} })
const length = verdict.length / 1e9
console.log(
  JSON.stringify({ folder, wall, speed: length / wall, processorSpeed: length / cpu, frames, maxRss }),
)
