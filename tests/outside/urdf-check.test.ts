/** Our URDF files, and how we read their trees, against the format's own parser: check_urdf of Debian's liburdfdom-tools. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, describe, expect, test } from 'vitest'
import { rootsOf } from '../../src/files/urdf/chain.js'
import { Mistakes } from '../../src/files/urdf/mistakes.js'
import { modelOf } from '../../src/files/urdf/model.js'
import { parseXml } from '../../src/files/urdf/xml.js'
import { needs } from '../setup/needs.js'
import { change } from '../setup/runs.js'

const FILES = ['rigs/skiff-arm.urdf', 'tests/outside/data/skew-arm.urdf', 'tests/unit/files/small-arm.urdf']
const pathOf = (file: string) => fileURLToPath(new URL(`../../${file}`, import.meta.url))

interface Tree {
  readonly root: string
  /** `parent > child`, sorted */
  readonly edges: string[]
}

/** `root Link: a has 1 child(ren)`, then each child on a line, indented by its depth: `child(1):  b`. */
function theirTree(printed: string): Tree {
  const root = /^root Link: (\S+) has \d+ child/m.exec(printed)![1]!
  const way = [{ indent: 0, name: root }]
  const edges: string[] = []
  for (const [, blanks, name] of printed.matchAll(/^( +)child\(\d+\): {2}(\S+)$/gm)) {
    const indent = blanks!.length
    while (way.at(-1)!.indent >= indent) way.pop()
    edges.push(`${way.at(-1)!.name} > ${name}`)
    way.push({ indent, name: name! })
  }
  return { root, edges: edges.sort() }
}

function ourTree(text: string): Tree {
  const mistakes = new Mistakes('arm.urdf')
  const model = modelOf(parseXml(text, 'arm.urdf'), mistakes)
  expect(mistakes.lines).toEqual([])
  const [root] = rootsOf(model)
  return { root: root!, edges: model.joints.map(({ parent, child }) => `${parent} > ${child}`).sort() }
}

describe.skipIf(!needs('liburdfdom-tools'))('check_urdf', () => {
  const folder = mkdtempSync(join(tmpdir(), 'drystroke-urdf-'))
  afterAll(() => rmSync(folder, { recursive: true }))

  test.each(FILES)('accepts %s, and sees the tree that we see', (file) => {
    const { status, stdout } = spawnSync('check_urdf', [pathOf(file)], { encoding: 'utf8' })
    expect(status).toBe(0)
    expect(stdout).toContain('Successfully Parsed XML')
    const theirs = theirTree(stdout)
    expect(theirs.edges.length).toBeGreaterThanOrEqual(5)
    expect(ourTree(readFileSync(pathOf(file), 'utf8'))).toEqual(theirs)
  })

  const small = readFileSync(pathOf('tests/unit/files/small-arm.urdf'), 'utf8')
  test.each([
    ['a link that is not there', '<child link="upper"/>', '<child link="uper"/>'],
    ['two links of one name', 'link name="post"', 'link name="plate"'],
    ['an unknown type of joint', 'name="swing" type="revolute"', 'name="swing" type="screw"'],
    ['two numbers for three', 'axis xyz="0 0 1"', 'axis xyz="0 1"'],
    ['a tag not closed', '</robot>', ''],
  ])('refuses %s, as we do', (_, from, to) => {
    const file = join(folder, 'broken.urdf')
    writeFileSync(file, change(small, from, to))
    expect(spawnSync('check_urdf', [file]).status).not.toBe(0)
  })
})
