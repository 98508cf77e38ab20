import { describe, expect, it } from 'vitest'
import { junitXml } from '../../../src/report/junit.js'
import { escaped } from '../../../src/report/markup.js'
import { FINDINGS, INCOMPLETE, PASSED, VERDICT } from './sample-run.js'

const cases = (xml: string): string[] => [...xml.matchAll(/<testcase name="([^"]*)"/g)].map((m) => m[1]!)

describe('junit.xml', () => {
  it('has a suite a run, and a case for the verdict, each expectation and each watch', () => {
    const xml = junitXml([VERDICT, PASSED])
    expect(xml.match(/<testsuite /g)).toHaveLength(2)
    expect(cases(junitXml([VERDICT]))).toEqual([
      'verdict',
      ...VERDICT.expectations.map((e) => e.expected),
      'tracking',
      'silence',
      'bus',
      'sense',
      // A watch that gave a finding but no figures.
      'limits',
    ])
  })

  it('counts failures and errors as it writes them', () => {
    const xml = junitXml([VERDICT])
    const count = (tag: string): number => xml.match(new RegExp(`<${tag} `, 'g'))?.length ?? 0
    // The verdict, the expectation of 50 ms, tracking and silence failed; bus has a doubt; a warning is neither.
    expect([count('failure'), count('error')]).toEqual([4, 1])
    expect(xml).toContain('tests="10" failures="4" errors="1" skipped="0" time="13.400"')
    expect(xml).toContain(
      'message="port.elbow at 5.205 s: following error 3.5 deg (limit 3 deg). The joint fell',
    )
  })

  it('shows a run that passed green, though its watches saw the fault that was played', () => {
    // A passed run has no doubts.
    const findings = FINDINGS.filter((f) => f.severity !== 'doubt')
    const xml = junitXml([{ ...VERDICT, outcome: 'pass', findings, expectations: PASSED.expectations }])
    expect(xml).not.toMatch(/<(failure|error) /)
    expect(xml).toContain('failures="0" errors="0"')
    expect(xml).toContain('failure, expected: port.elbow at 6.064 s: age of feedback 62 ms')
  })

  it('shows what an incomplete run has not shown as an error, and its expected failure not at all', () => {
    const xml = junitXml([{ ...VERDICT, outcome: 'incomplete', findings: [FINDINGS[2]!] }])
    // The verdict and the expectation of 50 ms.
    expect(xml).toContain('failures="0" errors="2"')
    expect(xml).toContain('<error type="expectation" message="64.0 ms">')
  })

  it('shows an incomplete run as an error, never green', () => {
    const xml = junitXml([INCOMPLETE])
    expect(xml).toContain('<error type="verdict" message="The recording was cut short."')
    expect(xml).toContain('failures="0" errors="1"')
  })

  it('has no time of day and no machine in it', () => {
    expect(junitXml([VERDICT])).toBe(junitXml([structuredClone(VERDICT)]))
    expect(
      [...junitXml([VERDICT, PASSED]).matchAll(/(timestamp|hostname)="([^"]*)"/g)].map((m) => m[2]),
    ).toEqual(['1970-01-01T00:00:00', 'localhost', '1970-01-01T00:00:00', 'localhost'])
  })

  it('lets nothing become markup', () => {
    const says = `<b a="1">&'\u0000\u001b[31m\ud800 \u{1f6f6} ]]>`
    const xml = junitXml([
      { ...VERDICT, sentence: says, scenario: says, findings: [{ ...FINDINGS[1]!, says, place: says }] },
    ])
    expect(xml).not.toContain('<b ')
    expect(xml.includes('\u0000') || xml.includes('\u001b')).toBe(false)
    expect(xml).not.toContain(']]>')
    expect(escaped(says)).toBe('&lt;b a=&quot;1&quot;&gt;&amp;&#39;\ufffd\ufffd[31m\ufffd \u{1f6f6} ]]&gt;')
  })
})
