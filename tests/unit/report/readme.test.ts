/** What the README lists must be what the code says. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { z } from 'zod'
import { watchSchemas } from '../../../src/watch/settings.js'

const README = readFileSync(new URL('../../../README.md', import.meta.url), 'utf8')

interface Node {
  readonly properties?: Readonly<Record<string, Node>>
  readonly default?: unknown
}

/** `limits.warning` and its default, for every setting of every watch. */
function settings(node: Node, path: string): [string, string][] {
  if (node.properties)
    return Object.entries(node.properties).flatMap(([key, next]) =>
      settings(next, path === '' ? key : `${path}.${key}`),
    )
  const value = node.default
  return [[path, value === undefined || typeof value === 'object' ? 'none' : String(value)]]
}

describe('the README', () => {
  it('lists every threshold with its default', () => {
    const known = settings(z.toJSONSchema(z.object(watchSchemas), { io: 'input' }) as Node, '')
    const [, section] = README.split('### Thresholds\n')
    const listed = [...section!.split('\n## ')[0]!.matchAll(/^\| `([^`]+)` +\| (\S.*?) +\|/gm)].map((m) => [
      m[1],
      m[2],
    ])
    expect(listed.length).toBeGreaterThan(20)
    expect(listed).toEqual(known)
  })

  it('has a row for every watch', () => {
    for (const name of Object.keys(watchSchemas)) expect(README).toMatch(new RegExp(`^\\| ${name} +\\|`, 'm'))
  })
})
