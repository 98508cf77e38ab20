/**
 * Every file in tests/golden/bad-files is refused as its first lines say: one line for each mistake,
 * `# line:column fragment | fragment ...`. The name says whether it is a rig or a scenario. A new case is a new file.
 */
import { readdirSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { DrystrokeError } from '../../../src/errors.js'
import { loadRig, loadScenario } from '../../../src/files/load.js'
import { watchSchemas } from './watch-schemas.js'

const folder = new URL('../../golden/bad-files/', import.meta.url)
const smallRig = loadRig(
  readFileSync(new URL('small-rig.yaml', import.meta.url), 'utf8'),
  'small-rig.yaml',
  watchSchemas,
)
const files = readdirSync(folder).sort()

interface Expected {
  readonly place: string
  readonly fragments: readonly string[]
}

function expectedOf(text: string): Expected[] {
  const found: Expected[] = []
  for (const line of text.split('\n')) {
    const match = /^# (\d+:\d+) (.*)$/.exec(line)
    if (!match) break
    found.push({ place: match[1]!, fragments: match[2]!.split(' | ') })
  }
  return found
}

test('there are rigs and scenarios in the folder, and every one says what is wrong with it', () => {
  expect(files.filter((f) => f.startsWith('rig-')).length).toBeGreaterThan(50)
  expect(files.filter((f) => f.startsWith('scenario-')).length).toBeGreaterThan(25)
  for (const file of files)
    expect(expectedOf(readFileSync(new URL(file, folder), 'utf8')), file).not.toHaveLength(0)
})

test.each(files)('%s', (file) => {
  const text = readFileSync(new URL(file, folder), 'utf8')
  const expected = expectedOf(text)
  const error = refusalOf(() =>
    file.startsWith('rig-') ? loadRig(text, file, watchSchemas) : loadScenario(text, file, smallRig),
  )
  expect(error.code).toBe('file-invalid')
  expect(error.exitStatus).toBe(2)
  const entries = error.message.split('\n')
  expect(entries.map((entry) => entry.split(': ')[0])).toEqual(
    expected.map(({ place }) => `${file}:${place}`),
  )
  entries.forEach((entry, i) => {
    for (const fragment of expected[i]!.fragments) expect(entry).toContain(fragment)
  })
})

function refusalOf(load: () => unknown): DrystrokeError {
  try {
    load()
  } catch (error) {
    if (error instanceof DrystrokeError) return error
    throw error
  }
  throw new Error('the file was accepted')
}
