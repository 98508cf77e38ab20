/** A drive's state in findings: in the words of what it speaks. */
import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { driveWords } from '../../../src/watch/drive-words.js'
import { watchSchemas } from '../files/watch-schemas.js'

const jointOf = (file: string) =>
  loadRig(readFileSync(new URL(`../files/${file}`, import.meta.url), 'utf8'), file, watchSchemas).joints[0]!

it('a statusword is told by its state bits, beside those of operation enabled (CiA 402: 27h of 6Fh)', () => {
  const words = driveWords(jointOf('small-rig.yaml'), 0x1690)
  expect(words).toMatchObject({ value: 0x00, limit: 0x27 })
  expect(words.unnamed).toMatch(/00h/)
  expect(words.error).toMatch(/603Fh/)
})

it("a frame map's state by its number, beside the map's number for enabled; nothing of CiA 402 is said", () => {
  const words = driveWords(jointOf('small-frames-rig.yaml'), 12)
  expect(words).toMatchObject({ value: 12, limit: 1 })
  expect(words.unnamed).toBe('The state signal says 12, a number that the frame map "heron" does not name.')
  expect(`${words.error} ${words.following}`).not.toMatch(/603Fh|statusword/)
})
