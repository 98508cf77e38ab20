import { describe, expect, it } from 'vitest'
import { findingsBlock, needsFindings, verdictTable } from '../../../src/report/terminal.js'
import { FINDINGS, INCOMPLETE, PASSED, VERDICT } from './sample-run.js'

const plain = { colour: false }

describe('the verdict table', () => {
  it('has one row a run and the reason where it did not pass', () => {
    expect(verdictTable([PASSED, VERDICT, INCOMPLETE], plain)).toBe(
      [
        'verdict     scenario                  length  ended     failures doubts warnings',
        '-'.repeat(80),
        'PASS        slow-ahead                13.4 s  completed        0      0        0',
        'FAIL        joint-silent              13.4 s  stopped          2      1        1',
        '            The stop for port.elbow came 64.0 ms after its feedback was lost;',
        '            the scenario allows 50.0 ms.',
        'INCOMPLETE  gentle-arc                13.4 s  cut short        0      0        0',
        '            The recording was cut short.',
        '-'.repeat(80),
        '3 runs: 1 passed, 1 failed, 1 incomplete',
        '',
      ].join('\n'),
    )
  })

  it('says that there were more findings than are listed', () => {
    expect(verdictTable([{ ...VERDICT, moreFindings: 3 }], plain)).toContain('2+     1+       1+')
  })

  it('says which recordings failed and how many scenarios were not played', () => {
    const lost = { scenario: 'crawl', problem: 'no space left.' }
    const text = verdictTable([PASSED, lost], plain, 14)
    expect(text).toContain('NO VERDICT  crawl\n            The recording failed: no space left.\n')
    expect(text).toContain('2 runs: 1 passed, 0 failed, 0 incomplete, 1 not recorded, 14 not played\n')
  })

  it('counts a failure that was expected for nothing', () => {
    const row = (v: typeof VERDICT): string => verdictTable([v], plain).split('\n')[2]!
    expect(row({ ...VERDICT, outcome: 'pass' })).toMatch(/ 0 {6}1 {8}1$/)
    expect(row({ ...VERDICT, outcome: 'incomplete' })).toMatch(/ 0 {6}1 {8}1$/)
    expect(row(VERDICT)).toMatch(/ 2 {6}1 {8}1$/)
  })

  it.each([60, 79, 80, 100])('fits into %i columns and keeps names whole', (width) => {
    const named = { ...VERDICT, scenario: 'pivot-to-starboard' }
    const lines = verdictTable([PASSED, named, INCOMPLETE], { ...plain, width }).split('\n')
    expect(Math.max(...lines.map((l) => l.length))).toBeLessThanOrEqual(width)
    expect(lines.join('\n')).toContain('pivot-to-starboard ')
    expect(lines[0]).toMatch(/length/)
    expect(lines.find((l) => l.startsWith('FAIL'))).toMatch(/2 +1 +1$/)
  })

  it('says the same in colour', () => {
    const coloured = verdictTable([PASSED, VERDICT], { colour: true })
    expect(coloured).toContain('\u001b[32mPASS')
    expect(
      coloured
        .split('\u001b')
        .join('')
        .replace(/\[\d+m/g, ''),
    ).toBe(verdictTable([PASSED, VERDICT], plain))
  })
})

describe('the findings block', () => {
  it('names joint, scenario time, value, limit and what to look at first', () => {
    const text = findingsBlock(VERDICT, plain)
    expect(text).toContain(
      [
        '  failure  port.elbow at 6.064 s  (silence watch)',
        '    age of feedback 62 ms (limit 30 ms)',
        '    The joint said nothing for longer than it may.',
        '    why: A joint that is not heard cannot be watched, and so cannot be stopped',
        '         in time.',
        '    look first: Look at the plug and the termination of port-can, then at the',
        '                drive of node 13.',
        '',
      ].join('\n'),
    )
    expect(text).toContain('  stop at 6.064 s, asked for by silence (port.elbow), still after 212 ms\n')
    expect(text).toContain('not as expected: the stop within 50.0 ms of the fault\n    found: 64.0 ms')
    expect(text).not.toContain('all joints still within')
  })

  it('is empty when there is nothing to say', () => {
    expect(findingsBlock(PASSED, plain)).toBe('')
  })

  it('puts failures first, then doubts and warnings, and what was expected last', () => {
    const order = (v: typeof VERDICT): string[] =>
      [...findingsBlock(v, plain).matchAll(/^ {2}(\w+(?:, expected)?) {2}\S/gm)].map((m) => m[1]!)
    expect(order(VERDICT)).toEqual(['failure', 'failure', 'doubt', 'warning'])
    const passed = { ...VERDICT, outcome: 'pass' } as const
    expect(order(passed)).toEqual(['doubt', 'warning', 'failure, expected', 'failure, expected'])
    const only = (severity: string) => ({
      ...passed,
      findings: FINDINGS.filter((f) => f.severity === severity),
    })
    expect(needsFindings(only('warning'))).toBe(true)
    expect(needsFindings(only('failure'))).toBe(false)
    expect(needsFindings(VERDICT)).toBe(true)
  })

  it('does not ask a run that was cut for what it did not come to', () => {
    const unmet = VERDICT.expectations.filter((e) => !e.met)
    const ended = { ...INCOMPLETE, expectations: unmet, stop: VERDICT.stop }
    expect(findingsBlock({ ...ended, ended: 'signal' }, plain)).not.toContain('within 50.0 ms of the fault')
    expect(findingsBlock({ ...ended, ended: 'stopped' }, plain)).toContain('not shown: the stop within')
    expect(findingsBlock({ ...ended, ended: 'stopped', outcome: 'fail' }, plain)).toContain(
      'not as expected: the stop within',
    )
  })

  it('counts time from the start of the run where the scenario has not begun, or never did', () => {
    expect(findingsBlock({ ...VERDICT, zero: null }, plain)).toContain('port.elbow at 8.164 s of the run')
    expect(findingsBlock({ ...VERDICT, zero: 9e9 }, plain)).toContain('port.elbow at 8.164 s of the run')
  })

  it.each([40, 80, 120])('stays within %i columns, and lets no control character through', (width) => {
    const says = `\u001b[2J${'long'.repeat(60)} ${'word '.repeat(60)}\nnew line`
    const verdict = {
      ...VERDICT,
      sentence: says,
      findings: [{ ...FINDINGS[1]!, says, why: says, look: says }],
    }
    const text =
      findingsBlock(verdict, { ...plain, width }) +
      (width >= 80 ? verdictTable([verdict], { ...plain, width }) : '')
    const lines = text.split('\n').filter((l) => !l.includes('watch)'))
    expect(Math.max(...lines.map((l) => l.length))).toBe(width)
    expect(text).not.toContain('\u001b')
  })
})
