/**
 * JUnit XML of one or several verdicts. A run is a test suite; its cases are the verdict itself, each expectation and each
 * watch. The format has no owner; this keeps to what the two schemas in wide use both accept.
 */
import { seconds } from '../clock.js'
import type { Finding } from '../files/event.js'
import type { Verdict } from '../verdict/verdict.js'
import { escaped } from './markup.js'
import { isExpected, placeName, scenarioTime, severityWord, valueAndLimit } from './wording.js'

// The stricter schema demands both attributes. Time of day and machine would make two equal runs differ and stand in
// provenance.json, so here they are neutral: `localhost` is what that schema asks for when the host is not determined.
const NEUTRAL = 'timestamp="1970-01-01T00:00:00" hostname="localhost"'

interface Case {
  readonly group: string
  readonly name: string
  readonly bad: { readonly tag: 'failure' | 'error'; readonly message: string; readonly text: string } | null
}

/** @param verdicts one suite each, in this order; the same verdicts give the same bytes */
export function junitXml(verdicts: readonly Verdict[]): string {
  const suites = verdicts.map((v, i) => suite(v, i))
  return `<?xml version="1.0" encoding="UTF-8"?>\n<testsuites>\n${suites.join('')}</testsuites>\n`
}

function suite(v: Verdict, id: number): string {
  const cases = [verdictCase(v), ...expectationCases(v), ...watchCases(v)]
  const count = (tag: string): number => cases.filter((c) => c.bad?.tag === tag).length
  const time = seconds(v.length).toFixed(3)
  const properties = [
    ['rig', v.rig],
    ['seed', String(v.seed)],
    ['outcome', v.outcome],
    ['ended', v.ended],
  ] as const
  return [
    `  <testsuite name="${escaped(v.scenario || 'run')}" package="${escaped(v.rig)}" id="${id}" ${NEUTRAL}`,
    ` tests="${cases.length}" failures="${count('failure')}" errors="${count('error')}" skipped="0" time="${time}">\n`,
    '    <properties>\n',
    ...properties.map(([name, value]) => `      <property name="${name}" value="${escaped(value)}"/>\n`),
    '    </properties>\n',
    // The run's time belongs to the verdict, so that sums over cases come to the length of the run.
    ...cases.map((c, i) => testCase(v, c, i === 0 ? time : '0.000')),
    `    <system-out>${escaped(everything(v))}</system-out>\n`,
    '    <system-err></system-err>\n',
    '  </testsuite>\n',
  ].join('')
}

function testCase(v: Verdict, c: Case, time: string): string {
  const head = `    <testcase name="${escaped(c.name)}" classname="${escaped(`${v.scenario || 'run'}.${c.group}`)}" time="${time}"`
  if (c.bad === null) return `${head}/>\n`
  const { tag, message, text } = c.bad
  return `${head}>\n      <${tag} type="${c.group}" message="${escaped(message)}">${escaped(text)}</${tag}>\n    </testcase>\n`
}

/** Stands for the whole, so that no suite is green when its run was not passed. */
function verdictCase(v: Verdict): Case {
  const tag = v.outcome === 'fail' ? 'failure' : 'error'
  const bad = v.outcome === 'pass' ? null : ({ tag, message: v.sentence, text: v.sentence } as const)
  return { group: 'verdict', name: 'verdict', bad }
}

/** What an incomplete run has not shown is an error: no failure was seen. */
function expectationCases(v: Verdict): Case[] {
  const tag = v.outcome === 'incomplete' ? 'error' : 'failure'
  return v.expectations.map((e) => ({
    group: 'expectation',
    name: e.expected,
    bad: e.met ? null : { tag, message: e.found, text: `expected: ${e.expected}\nfound: ${e.found}` },
  }))
}

/** What a watch saw and the scenario expected is in system-out, not a failure. */
function watchCases(v: Verdict): Case[] {
  const names = new Set([...v.watches.map((w) => w.watch), ...v.findings.map((f) => f.watch)])
  return [...names].map((name) => {
    const seen = v.findings.filter((f) => f.watch === name && f.severity !== 'warning' && !isExpected(f, v))
    const first = seen.find((f) => f.severity === 'failure') ?? seen[0]
    if (!first) return { group: 'watch', name, bad: null }
    const tag = first.severity === 'failure' ? 'failure' : 'error'
    return {
      group: 'watch',
      name,
      bad: { tag, message: line(first, v), text: seen.map((f) => block(f, v)).join('\n') },
    }
  })
}

function line(f: Finding, v: Verdict): string {
  return `${placeName(f.place)} at ${scenarioTime(f.t, v.zero)}: ${f.quantity} ${valueAndLimit(f)}. ${f.says}`
}

function block(f: Finding, v: Verdict): string {
  return `${severityWord(f, v)}: ${line(f, v)}\nwhy: ${f.why}\nlook first: ${f.look}\n`
}

function everything(v: Verdict): string {
  const more = v.moreFindings > 0 ? [`and ${v.moreFindings} more findings\n`] : []
  return [`${v.sentence}\n`, ...v.findings.map((f) => block(f, v)), ...more].join('\n')
}
