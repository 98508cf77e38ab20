/**
 * A driver of somebody else's in real time: it leads arms of another process over TCP; one that breaks is found out, and the arms
 * are stopped. What it is told and when, to the period, is tested in virtual time (own-driver.test.ts).
 */
import { mkdtempSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { overWebSocket } from '../setup/driver-bridge.mjs'
import { atPark, driverTrial } from '../setup/driver-trial.js'
import { JAVASCRIPT, PYTHON } from '../setup/example-drivers.mjs'
import { broken, rigBy } from '../setup/own-driver.js'
import { PATIENT_RIG } from '../setup/patient-rig.js'
import { freePorts, Program } from '../setup/program.js'
import { eventsOf, temporaryFolder } from '../setup/runs.js'

const work = temporaryFolder()
const LONG = { timeout: 280_000 }

async function overTcp(run: readonly string[], scenario?: string) {
  const [port, starboard] = await freePorts(2)
  return driverTrial(
    run,
    [`slcan:tcp:127.0.0.1:${port}`, `slcan:tcp:127.0.0.1:${starboard}`],
    mkdtempSync(join(work, 'trial-')),
    scenario,
  )
}

test.each([
  ['JavaScript', JAVASCRIPT],
  ['Python', PYTHON],
])('the example in %s leads a stand-in over TCP', LONG, async (_, run) => {
  const { status, verdict, log } = await overTcp(run)
  expect(verdict.findings.filter((f) => f.watch === 'driver' || f.watch === 'gate')).toEqual([])
  expect(verdict.outcome, verdict.sentence).toBe('pass')
  expect(status).toBe(0)
  const figures = new Map(
    verdict.watches.find((w) => w.watch === 'driver')!.figures.map((f) => [f.name, f.value]),
  )
  expect(figures.get('command to its answer, 50 %')).toBeGreaterThan(0)
  expect(figures.get('command to its answer, 50 %')).toBeLessThanOrEqual(
    figures.get('command to its answer, greatest')!,
  )
  expect(figures.get('commands ceased to rest')).toBeGreaterThan(0.5)
  expect(log.some((line) => line.includes('paddling reservoir-skiff'))).toBe(true)
})

/**
 * The driver breaks at its 60th command, 2.4 s after the beginning. It stands still until then: nothing is asked of it, which the watch for
 * sense would hold against it. A busy machine may be late in everything.
 */
const STOPPED = `name: broken
about: The driver breaks while nothing is asked of it.
duration: "10 s"
commands: [{ at: "0.1 s", surge: "0 m/s", yaw: "0 deg/s" }]
expect: { outcome: stop, by: driver, after: "0 s", within: "10 s", still: "5 s" }
`

const ANEW = `name: anew
about: The way to the driver breaks while nothing is asked of it; a new start later.
duration: "14 s"
commands: [{ at: "0.1 s", surge: "0 m/s", yaw: "0 deg/s" }]
operator:
  - { at: "6 s", do: release }
  - { at: "6.5 s", do: reset }
  - { at: "7 s", do: start }
expect: { outcome: stop, by: driver, after: "0 s", within: "5 s", still: "5 s", no-motion: false }
`

test.each([
  ['dies', 'driver-lost', 'it ended with status 3; it said last: this is the end'],
  ['floods', 'driver-flood', 'it sends far more than it is asked for'],
  ['stalls', 'driver-silent', 'it has not answered a command for 2'],
  ['prints words', 'driver-rubbish', '"debug: all is well" is no JSON object'],
])('a driver that %s is found out, and the arms are stopped', LONG, async (how, code, says) => {
  const { status, verdict, folder } = await overTcp(broken(how), STOPPED)
  const finding = verdict.findings.find((f) => f.quantity === code)
  expect(finding, verdict.sentence).toMatchObject({ watch: 'driver', says: expect.stringContaining(says) })
  expect(eventsOf(folder).filter((e) => e.kind === 'stop')).toMatchObject([{ source: 'driver', category: 1 }])
  expect(verdict.outcome, verdict.sentence).toBe('pass')
  expect(status).toBe(0)
})

test(
  'a WebSocket that breaks is a stop; it comes back, which is a warning, and a new start goes on with it',
  LONG,
  async () => {
    const bridge = await overWebSocket(JAVASCRIPT, { dropAt: 60 })
    try {
      const [rig, scenario] = ['websocket-rig.yaml', 'websocket.yaml'].map((name) => join(work, name))
      const section = [...bridge.section, 'answer: "2 s"', 'handshake: "40 s"']
      writeFileSync(rig!, rigBy(section, atPark(PATIENT_RIG)))
      writeFileSync(scenario!, ANEW)
      const told = ['--rig', rig!, '--realtime', '--out', join(work, 'websocket'), '--json']
      const run = new Program('run', scenario!, ...told)
      await run.ended()
      const [{ verdict, folder }] = JSON.parse(run.out.join('\n')).runs
      const events = eventsOf(folder)
      expect(
        events.filter((e) => e.kind === 'stop'),
        verdict.sentence,
      ).toMatchObject([{ source: 'driver' }])
      const kinds = events.map((e) => (e.kind === 'stage' ? e.stage : e.kind))
      const [stopped, back] = [kinds.indexOf('stop'), kinds.indexOf('rejoined')]
      expect(back).toBeGreaterThan(stopped)
      expect(kinds.indexOf('answered', back)).toBeGreaterThan(kinds.indexOf('play', back))
      // A busy machine may make drives and loop late besides.
      const findings = verdict.findings.filter((f: { watch: string }) => f.watch === 'driver')
      expect(findings.map((f: { severity: string; quantity: string }) => [f.severity, f.quantity])).toEqual([
        ['failure', 'driver-lost'],
        ['warning', 'connection'],
      ])
      expect(verdict.outcome, verdict.sentence).toBe('pass')
      // The greeting and the beginning were said to both connections, the good-bye to the second.
      const said = bridge.heard
        .map((text) => Object.keys(JSON.parse(text))[0])
        .filter((key) => key !== 'helm')
      expect(said).toEqual(['want', 'price', 'start', 'want', 'price', 'start', 'farewell'])
    } finally {
      await bridge.end()
    }
  },
)
