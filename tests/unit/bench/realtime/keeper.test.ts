/** The parent's hold on a recording: what it tells the bench process of how far it got, and what stays of a run that was refused. */
import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeEach, expect, test, vi } from 'vitest'
import { Keeper } from '../../../../src/bench/realtime/keeper.js'
import type { Order } from '../../../../src/bench/realtime/message.js'
import { DrystrokeError } from '../../../../src/errors.js'
import { recordingFolder } from '../../../../src/record/folder.js'
import { provenanceNow } from '../../../../src/record/provenance.js'
import { RecordingFiles } from '../../../../src/record/write.js'
import { temporaryFolder } from '../../../setup/runs.js'

const out = temporaryFolder()
const bytes = (text: string): Uint8Array => Buffer.from(text)
const full = new DrystrokeError('file-access', 'frames.pcapng cannot be written: no space left')

let files: RecordingFiles
let orders: Order[]
let keeper: Keeper
beforeEach(() => {
  files = RecordingFiles.create(recordingFolder(out, 'kept'), {
    ...{ rigText: 'rig', scenarioText: 'scenario' },
    provenance: provenanceNow({ rigFile: 'rig.yaml', scenarioFile: 'scenario.yaml', arms: 'real' }),
  })
  orders = []
  keeper = new Keeper(files, (order) => orders.push(order))
})

const written = (file: string): string => readFileSync(join(files.folder, file), 'utf8')

test('tells what is written, and only when there is more', () => {
  keeper.tell()
  expect(orders).toEqual([])
  keeper.write(bytes('fra'), bytes('ev'))
  keeper.write(bytes('mes'), bytes(''))
  keeper.tell()
  keeper.tell()
  expect(orders).toEqual([{ kind: 'written', length: { frames: 6, events: 2 } }])
  keeper.close(false)
  expect([written('frames.pcapng'), written('events.jsonl')]).toEqual(['frames', 'ev'])
})

test('a full disk is told at once and once, nothing is written behind the gap, and the end says what it was', () => {
  keeper.write(bytes('be'), bytes('fore'))
  const append = vi.spyOn(files, 'append').mockImplementation(() => {
    throw full
  })
  keeper.write(bytes('x'), bytes('y'))
  expect(orders).toEqual([{ kind: 'unwritten', says: full.message }])
  append.mockRestore()
  keeper.write(bytes('behind'), bytes('behind'))
  keeper.tell()
  // The bench process need not keep for ever what nobody can write.
  expect(orders.slice(1)).toEqual([{ kind: 'written', length: { frames: 9, events: 11 } }])
  expect(() => keeper.close(false)).toThrow(full)
  expect([written('frames.pcapng'), written('events.jsonl')]).toEqual(['be', 'fore'])
})

test('of a run that was refused before anything came nothing stays', () => {
  keeper.close(true)
  expect(existsSync(files.folder)).toBe(false)
})

test.each([
  ['that came to nothing, but was not refused', () => keeper.close(false)],
  [
    'that was refused after something had come',
    () => {
      keeper.write(bytes('f'), bytes('e'))
      keeper.close(true)
    },
  ],
])('a run %s leaves its folder', (_, end) => {
  end()
  expect(readdirSync(files.folder).sort()).toEqual(
    ['events.jsonl', 'frames.pcapng', 'provenance.json', 'rig.yaml', 'scenario.yaml'].sort(),
  )
  expect(JSON.parse(written('provenance.json')).ended).not.toBeNull()
})

test('what somebody else has put into the folder of a run that was refused stays', () => {
  writeFileSync(join(files.folder, 'note.txt'), 'mine')
  keeper.close(true)
  expect(readdirSync(files.folder)).toEqual(['note.txt'])
})
