/** JUnit XML against a third-party schema, by xmllint (libxml2-utils). Schema, origin and licence: tests/outside/data/junit-ci.md. */
import { spawnSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { junitXml } from '../../src/report/junit.js'
import { needs } from '../setup/needs.js'
import { scratch } from '../unit/record/sample-recording.js'
import { FINDINGS, INCOMPLETE, PASSED, VERDICT } from '../unit/report/sample-run.js'

const SCHEMA = new URL('data/junit-ci.xsd', import.meta.url).pathname

function validate(xml: string): { status: number | null; says: string } {
  const file = join(scratch(), 'junit.xml')
  writeFileSync(file, xml)
  const { status, stderr } = spawnSync('xmllint', ['--nonet', '--noout', '--schema', SCHEMA, file], {
    encoding: 'utf8',
  })
  return { status, says: stderr }
}

const nasty = `<&>"' \u0000\u001b ]]> \ud800 \u{1f6f6}\n\t end`

describe.skipIf(!needs('libxml2-utils'))('junit.xml', () => {
  it('is held against the file that its note describes', () => {
    const hash = createHash('sha256').update(readFileSync(SCHEMA)).digest('hex')
    expect(readFileSync(new URL('data/junit-ci.md', import.meta.url), 'utf8')).toContain(hash)
  })

  it.each([
    ['no run', []],
    ['one that passed', [PASSED]],
    ['one that failed', [VERDICT]],
    ['one that is incomplete', [INCOMPLETE]],
    ['several', [PASSED, VERDICT, INCOMPLETE]],
    [
      'one with text that is no XML',
      [
        {
          ...VERDICT,
          scenario: nasty,
          rig: nasty,
          sentence: nasty,
          findings: [{ ...FINDINGS[1]!, says: nasty, place: nasty }],
        },
      ],
    ],
  ])('is valid for %s', (_, verdicts) => {
    const { status, says } = validate(junitXml(verdicts))
    expect(says).toContain('validates')
    expect(status).toBe(0)
  })

  it('would not be valid with an attribute or an element that the format lacks', () => {
    const xml = junitXml([VERDICT])
    expect(validate(xml.replace('<testcase ', '<testcase joint="port.elbow" ')).status).not.toBe(0)
    expect(validate(xml.replace('</properties>', '</properties><finding/>')).status).not.toBe(0)
  })

  it('says to a reader of XML what the verdict says', () => {
    const file = join(scratch(), 'junit.xml')
    writeFileSync(file, junitXml([{ ...VERDICT, sentence: 'a < b & "c" > \'d\'' }]))
    const ask = (path: string): string =>
      spawnSync('xmllint', ['--nonet', '--xpath', path, file], { encoding: 'utf8' }).stdout.trim()
    expect(ask('string(//testcase[@name="verdict"]/failure/@message)')).toBe('a < b & "c" > \'d\'')
    expect(ask('count(//failure)')).toBe(ask('string(//testsuite/@failures)'))
    expect(ask('count(//error)')).toBe(ask('string(//testsuite/@errors)'))
    expect(ask('count(//testcase)')).toBe(ask('string(//testsuite/@tests)'))
  })
})
