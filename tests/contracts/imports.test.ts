/** Imports point one way, in no circle; clocks are read in one place, random numbers come from one, and folds are pure. */
import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { breaches, importsOf } from './import-rules.js'

const root = new URL('../../src/', import.meta.url)
const paths = readdirSync(root, { recursive: true, encoding: 'utf8' }).filter((path) => path.endsWith('.ts'))
const sources = new Map(paths.map((path) => [path, readFileSync(new URL(path, root), 'utf8')]))

test('src keeps the rules', () => {
  expect(sources.size).toBeGreaterThan(50)
  expect([...sources].flatMap(([path, text]) => importsOf(path, text)).length).toBeGreaterThan(200)
  expect(breaches(sources)).toEqual([])
})

describe('the check finds', () => {
  const found = (files: Record<string, string>) => breaches(new Map(Object.entries(files)))

  test('nothing in what is allowed', () => {
    const files = {
      'errors.ts': '',
      'files/rig.ts': "import { E } from '../errors.js'",
      'wire/a.ts': "import type { Rig } from '../files/rig.js'",
      'bus/mock.ts': "import { a } from '../wire/a.js'",
      'link/link.ts': "import {\n  a,\n  b,\n} from '../wire/a.js'\nimport { readFileSync } from 'node:fs'",
      'stop/latch.ts': "import { l } from '../link/link.js'",
      'bench/loop.ts': "import { l } from '../stop/latch.js'\nsetTimeout(tick, 1)",
      'plant/drive.ts': "import { a } from '../wire/a.js'",
      'plant/device.ts': "import { randomStream } from '../random.js'",
      'random.ts': 'export const randomStream = () => Math.imul(3, 5)',
      'verdict/judge-recording.ts': "import { join } from 'node:path'\nawait judge()",
      'watch/a.ts':
        "import type { Rig } from '../files/rig.js'\n// Math.random, process.exit\nthis.process(o)",
      'cli/main.ts': "// at this Date\nconst run = await import('../bench/loop.js')",
    }
    expect(found(files)).toEqual([])
  })

  test.each([
    [
      'an arrow that turns back',
      { 'link/a.ts': "import { b } from '../bench/b.js'", 'bench/b.ts': '' },
      'must not import bench',
    ],
    [
      'a sibling',
      { 'watch/a.ts': "import { b } from '../link/b.js'", 'link/b.ts': '' },
      'must not import link',
    ],
    [
      'a type of a sibling',
      { 'plant/a.ts': "import type { B } from '../link/b.js'", 'link/b.ts': '' },
      'must not import link',
    ],
    [
      'a passing on',
      { 'files/a.ts': "export * from '../wire/b.js'", 'wire/b.ts': '' },
      'must not import wire',
    ],
    [
      'a late import',
      { 'record/a.ts': "const b = await import('../cli/b.js')", 'cli/b.ts': '' },
      'must not import cli',
    ],
    [
      'the ground floor looking up',
      { 'clock.ts': "import { a } from './files/a.js'", 'files/a.ts': '' },
      'ground floor',
    ],
    [
      'more than types in wire',
      { 'wire/a.ts': "import { r } from '../files/rig.js'", 'files/rig.ts': '' },
      'types of files/rig.ts only',
    ],
    ['node in motion', { 'motion/a.ts': "import { join } from 'node:path'" }, 'motion is pure'],
    ['a file that is not there', { 'link/a.ts': "import { b } from './b.js'" }, 'which is not there'],
    [
      'a folder that nobody knows',
      { 'utils/a.ts': "import { b } from '../files/b.js'", 'files/b.ts': '' },
      'utils must not',
    ],
    ['a clock', { 'watch/a.ts': 'const t = Date.now()' }, 'watch/a.ts has "Date"'],
    ['a timer outside the bench', { 'link/a.ts': 'setTimeout(() => {}, 5)' }, 'setTimeout'],
    ['dice', { 'driver/a.ts': 'const x = Math.random()' }, 'driver/a.ts has "Math.random"'],
    ['dice on the ground floor', { 'random.ts': "const x = Math['random']()" }, 'random.ts has'],
    ['dice taken out of their box', { 'bench/a.ts': 'const { random } = Math' }, 'bench/a.ts has'],
    ['dice of another make', { 'record/a.ts': 'crypto.getRandomValues(a)' }, 'getRandomValues'],
    [
      'node in a watch',
      { 'watch/a.ts': "import { readFileSync } from 'node:fs'" },
      'watch/a.ts imports node:fs',
    ],
    ['node in the judge', { 'verdict/judge.ts': "import { join } from 'node:path'" }, 'it is a fold'],
    ['node in the latch', { 'stop/latch.ts': "import { on } from 'node:events'" }, 'it is a fold'],
    ["node in the drive's states", { 'plant/drive.ts': "import 'node:fs'" }, 'it is a fold'],
    [
      'a random stream in a watch',
      { 'watch/a.ts': "import { randomStream } from '../random.js'", 'random.ts': '' },
      'watch/a.ts imports random.ts',
    ],
    [
      'a recording in the judge',
      { 'verdict/judge.ts': "import { openRecording } from '../record/read.js'", 'record/read.ts': '' },
      'verdict/judge.ts imports record/read.ts',
    ],
    ['a word to the screen in a watch', { 'watch/a.ts': 'console.log(1)' }, 'watch/a.ts has "console."'],
    ['an environment in the latch', { 'stop/latch.ts': 'if (process.env.X) stop()' }, 'stop/latch.ts has'],
    ['waiting in a watch', { 'watch/a.ts': 'await see(o)' }, 'watch/a.ts has "await"'],
    ['a clock in the latch', { 'stop/latch.ts': 'const t = new Date()' }, 'stop/latch.ts has "Date"'],
    ['a clock in the bench', { 'bench/a.ts': 'setTimeout(f, performance.now())' }, 'performance'],
  ])('%s', (_, files, says) => {
    expect(found(files)).toEqual([expect.stringContaining(says)])
  })

  test('a circle, once', () => {
    const files = {
      'link/a.ts': "import { b } from './b.js'",
      'link/b.ts': "import type { C } from './c.js'",
      'link/c.ts': "export { a } from './a.js'",
    }
    expect(found(files)).toEqual(['circle: link/a.ts -> link/b.ts -> link/c.ts -> link/a.ts'])
  })
})
