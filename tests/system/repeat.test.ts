/** The same seed gives the same bytes; a recording judged later gives the verdict that the run gave. */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { writeReports } from '../../src/report/write.js'
import { judgeRecording } from '../../src/verdict/judge-recording.js'
import { change, DEMO_RIG, play, played, scenarioText, temporaryFolder } from '../setup/runs.js'

const DERIVED = ['verdict.json', 'junit.xml', 'report.html']
const SAME_BYTES = ['frames.pcapng', 'events.jsonl', 'rig.yaml', 'scenario.yaml', 'verdict.json', 'junit.xml']

const bytes = (folder: string, file: string): string => readFileSync(join(folder, file)).toString('base64')

describe('repeating', () => {
  const out = temporaryFolder()
  const scenarios = [
    'slow-ahead',
    'joint-jammed',
    'joint-silent',
    'operator-stop',
    'bus-unplugged',
    'bus-disturbed',
  ]

  it.each(scenarios)('%s: same seed, same bytes; another seed, other bytes', async (name) => {
    const first = await play(out, DEMO_RIG, scenarioText(name), 7)
    const second = await play(out, DEMO_RIG, scenarioText(name), 7)
    const other = await play(out, DEMO_RIG, scenarioText(name), 8)
    for (const file of SAME_BYTES) expect(bytes(second.folder, file), file).toBe(bytes(first.folder, file))
    expect(bytes(other.folder, 'frames.pcapng')).not.toBe(bytes(first.folder, 'frames.pcapng'))
  })

  it.each(scenarios)('%s: judged later, byte for byte the same verdict and reports', async (name) => {
    const { folder } = await played(DEMO_RIG, scenarioText(name))
    const copy = mkdtempSync(join(out, 'copy-'))
    cpSync(folder, copy, { recursive: true })
    for (const file of DERIVED) rmSync(join(copy, file))
    writeReports(copy, judgeRecording(copy))
    for (const file of DERIVED) expect(bytes(copy, file), file).toBe(bytes(folder, file))
  })

  it('one feedback frame altered beyond a limit changes the verdict', async () => {
    const { folder, verdict } = await played(DEMO_RIG, scenarioText('slow-ahead'))
    expect(verdict.outcome).toBe('pass')
    const copy = mkdtempSync(join(out, 'altered-'))
    cpSync(folder, copy, { recursive: true })
    const file = join(copy, 'frames.pcapng')
    const data = readFileSync(file)
    writeFileSync(file, alterFeedback(data, 0, 0x180 + 11))
    const altered = judgeRecording(copy).judgement.verdict
    expect(altered.outcome).toBe('fail')
    expect(altered.findings).toContainEqual(
      expect.objectContaining({
        watch: 'limits',
        place: 'port.swing',
        quantity: 'position',
        severity: 'failure',
      }),
    )
  })

  it('cut short it is incomplete, never a pass', async () => {
    const { folder } = await played(DEMO_RIG, scenarioText('slow-ahead'))
    const copy = mkdtempSync(join(out, 'cut-'))
    cpSync(folder, copy, { recursive: true })
    const file = join(copy, 'frames.pcapng')
    writeFileSync(file, readFileSync(file).subarray(0, 1_000_003))
    const { verdict } = judgeRecording(copy).judgement
    expect(verdict).toMatchObject({ outcome: 'incomplete', ended: 'cut short' })
  })

  it('frames are the same whatever the scenario says that it expects', async () => {
    const text = scenarioText('slow-ahead')
    const first = await played(DEMO_RIG, text)
    const second = await play(out, DEMO_RIG, change(text, /least: \d+/, 'least: 99'))
    expect(bytes(second.folder, 'frames.pcapng')).toBe(bytes(first.folder, 'frames.pcapng'))
    expect(second.verdict.outcome).toBe('fail')
  })
})

/** Moves the position in the middlemost feedback frame of a bus and an identifier by a quarter of its range: 2^29 counts. */
function alterFeedback(data: Buffer, bus: number, id: number): Buffer {
  const head = Buffer.alloc(8)
  head.writeUInt32BE(id, 0)
  head[4] = 8
  const places: number[] = []
  for (let at = data.indexOf(head); at >= 0; at = data.indexOf(head, at + 1)) {
    // Enhanced packet block: the interface stands 20 bytes before the packet's data.
    if (data.readUInt32LE(at - 20) === bus) places.push(at)
  }
  const place = places[places.length >> 1]!
  const altered = Buffer.from(data)
  altered.writeInt32LE(altered.readInt32LE(place + 8 + 2) + 2 ** 29, place + 8 + 2)
  return altered
}
