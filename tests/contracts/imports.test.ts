/** Imports point one way, in no circle, and clocks are read in one place. */
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
