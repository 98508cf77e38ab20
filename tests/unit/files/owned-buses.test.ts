import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { watchSchemas } from './watch-schemas.js'

const root = new URL('../../../', import.meta.url)
const textOf = (path: string): string => readFileSync(new URL(path, root), 'utf8')
const small = textOf('tests/unit/files/small-rig.yaml').replaceAll(
  'address: mock }',
  'address: mock, controlword: "0x181" }',
)
const load = (text: string) => loadRig(text, 'rig.yaml', watchSchemas)
const OWNING = 'driver: { kind: process, run: [node, own.mjs], owns-bus: true }'

test('the harness owns the buses, unless the driver does', () => {
  expect(load(small).buses.map((b) => b.owner)).toEqual(['harness', 'harness'])
  expect(load(`${small}${OWNING}\n`).buses).toMatchObject([
    { owner: 'driver', controlword: 0x181 },
    { owner: 'driver', controlword: 0x181 },
  ])
  const answering = OWNING.replace('owns-bus: true', 'owns-bus: false')
  expect(load(`${small}${answering}\n`).buses.map((b) => b.owner)).toEqual(['harness', 'harness'])
})

test.each([
  ['0x18b', 'uses for feedback'],
  ['0x20b', 'uses for setpoints'],
  ['0x30b', 'uses for its own controlword'],
])("the identifier of the stop PDO is none of the drives': %s", (id, use) => {
  expect(() => load(`${small.replaceAll('0x181', id)}${OWNING}\n`)).toThrow(use)
})

test('arms that speak a frame map have no stop frame of the harness alone', () => {
  const frames = textOf('rigs/bottle-skiff-frames.yaml').replace(/^driver:\n( .*\n)+/m, '')
  expect(load(frames).buses.every((b) => b.owner === 'harness')).toBe(true)
  expect(() => load(`${frames}\n${OWNING}\n`)).toThrow(
    /driver\.owns-bus: found true, although joints on bus .* speak a frame map; expected false/,
  )
})
