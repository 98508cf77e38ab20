/** Judges a recording: from memory (decoder and watches alone) and from disk. Argument: its folder. Prints frames/s. */
import { join } from 'node:path'
import { loadRig, loadScenario } from '../../dist/files/load.js'
import { openRecording } from '../../dist/record/read.js'
import { Judge } from '../../dist/verdict/judge.js'
import { judgeRecording } from '../../dist/verdict/judge-recording.js'
import { watchSchemas } from '../../dist/watch/settings.js'

const [folder] = process.argv.slice(2)
const recording = openRecording(folder)
const rig = loadRig(recording.rigText, join(folder, 'rig.yaml'), watchSchemas)
const scenario = loadScenario(recording.scenarioText, join(folder, 'scenario.yaml'), rig)

// A part of the recording that fits into memory, events in their places.
const MOST = 400_000
const items = []
let frames = 0
let total = 0
recording.replay({
  frame: (bus, frame, t, sent) => {
    total++
    if (frames < MOST) {
      frames++
      items.push({ bus, frame, t, sent })
    }
  },
  event: (event) => {
    if (frames < MOST) items.push({ event })
  },
})

function fromMemory() {
  const judge = new Judge(rig, scenario)
  const t0 = performance.now()
  for (const item of items) {
    if (item.event) judge.event(item.event)
    else judge.frame(item.bus, item.frame, item.t, item.sent)
  }
  judge.close()
  return (1000 * frames) / (performance.now() - t0)
}

function fromDisk() {
  const t0 = performance.now()
  judgeRecording(folder)
  return (1000 * total) / (performance.now() - t0)
}

const best = (f) => Math.max(f(), f(), f())
console.log(JSON.stringify({ inMemory: best(fromMemory), fromDisk: best(fromDisk) }))
