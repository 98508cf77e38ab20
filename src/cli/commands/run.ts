/** `drystroke run`: plays scenarios on a rig, one recording folder each, and shows the verdicts. */
import { existsSync } from 'node:fs'
import { basename } from 'node:path'
import { HoldKey } from '../../bench/hold.js'
import { Interrupt } from '../../bench/interrupt.js'
import { type PlayResult, playScenario } from '../../bench/play.js'
import { playRealTime } from '../../bench/realtime/play.js'
import { STOP_SIGNALS } from '../../bench/realtime/signals.js'
import { checkReach } from '../../driver/reach.js'
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import type { OutsideStop } from '../../files/event.js'
import { type Confirmed, isReal, mayMove } from '../../ready/may-move.js'
import type { ConfirmedOverall } from '../../ready/overall-stop.js'
import { isFile, recordingFolder } from '../../record/folder.js'
import { type OverallStopThen, type Provenance, readProvenance } from '../../record/provenance.js'
import { type SeparationAid, separationAid, separationBlock } from '../../report/separation.js'
import { findingsBlock, needsFindings, type Unrecorded, verdictTable } from '../../report/terminal.js'
import { verdictJson } from '../../report/verdict-json.js'
import { wrapLines } from '../../report/wrap.js'
import { stopMark } from '../../stop/mark.js'
import { exitStatus, exitStatusOfAll } from '../../verdict/exit.js'
import { type Inputs, readInputs } from '../inputs.js'
import { openLog } from '../log.js'
import { HOLD_HINT, HOLD_KEY, KEYS_HINT, takeKeys } from '../operator-keys.js'
import { askOn } from '../person.js'
import { progressOn } from '../progress.js'
import { canRewrite, columnsOf, hasColour } from '../screen.js'
import { refuseUnreachable } from '../unreachable.js'
import { refuseFaultsOfNobody } from '../whose-faults.js'

export interface RunArguments {
  readonly scenarios: readonly string[]
  readonly rig: string | undefined
  readonly bus: readonly string[]
  /** Also where no bus asks for it. */
  readonly realtime: boolean
  /** Socket of the stand-in that the arms are; undefined: they are none. */
  readonly standIn: string | undefined
  readonly out: string
  readonly seed: number
  readonly json: boolean
  readonly logLevel: string
  readonly confirm: string | undefined
}

/** A run whose recording could not be written to its end. */
interface Spoilt extends Unrecorded {
  readonly folder: string
}

type Result = PlayResult | Spoilt

/** @throws DrystrokeError on bad input: then nothing was run and nothing written */
export async function run(args: RunArguments): Promise<ExitStatus> {
  const log = openLog(args.logLevel)
  refuseNoFolder(args.out)
  const inputs = readInputs(args.scenarios, args.rig, args.bus)
  refuseUnreachable(inputs.rigFile, checkReach(inputs.rig))
  const standIn = args.standIn !== undefined
  refuseFaultsOfNobody(inputs.rig, inputs.scenarios, standIn)
  const real = isReal(inputs.rig)
  const mark = real ? stopMark(inputs.rig) : ''
  // A stand-in has to prove that it is one, to the bench process.
  const confirmed = standIn ? null : await letMove(inputs, args.confirm)

  const interrupt = new Interrupt()
  const realtime = args.realtime || real
  // A person at a terminal is told in words; the log is for whoever keeps it.
  const person = canRewrite(process.stderr)
  const ask = (stop: OutsideStop): void => {
    if (person && interrupt.stop === null) progress.say('stopping ...')
    log[person ? 'info' : 'warn']({ source: stop.source, says: stop.says }, 'stopping')
    interrupt.ask(stop)
  }
  const onSignal = (name: string): void => ask({ source: 'signal', says: `${name} was received` })
  const signals: readonly NodeJS.Signals[] = realtime ? STOP_SIGNALS : ['SIGINT', 'SIGTERM']
  for (const signal of signals) process.on(signal, onSignal)
  const holdKey = new HoldKey()
  const onKey = (byte: number): void => {
    if (byte === HOLD_KEY) holdKey.press()
  }
  const giveBack = realtime ? takeKeys(process.stdin, ask, onKey) : null
  // A person who can hold a key must hold it; a stand-in needs nobody.
  const hold = giveBack && real && !standIn ? holdKey : null
  const progress = progressOn(process.stderr, (stage) => {
    if (!giveBack) return ''
    return hold && stage === 'approach' ? `${HOLD_HINT}, ${KEYS_HINT}` : KEYS_HINT
  })
  const play = realtime ? playRealTime : playScenario
  const results: Result[] = []
  let failure: { error: unknown } | null = null
  let goesOn = true
  try {
    for (const [i, input] of inputs.scenarios.entries()) {
      if (interrupt.stop || !goesOn) break
      const { name } = input.scenario
      progress.begin(input.scenario, i + 1, inputs.scenarios.length)
      log.info({ scenario: name }, 'run begins')
      const folder = recordingFolder(args.out, name)
      try {
        const result = await play({
          ...inputs,
          ...input,
          scenarioFile: input.file,
          scenarioText: input.text,
          outDir: args.out,
          seed: args.seed,
          standIn: args.standIn,
          hold,
          drives: confirmed?.drives ?? null,
          overallStop: confirmed ? overallThen(confirmed.overall) : undefined,
          interrupt,
          stopMark: mark,
          onProgress: progress.at,
          onSaid: (says) => log.info({ scenario: name, driver: says }, 'the driver says'),
        })
        results.push(result)
        goesOn = !real || standIn || allWent(result)
        progress.end(result.verdict.outcome)
        log.info({ scenario: name, outcome: result.verdict.outcome, folder: result.folder }, 'run ended')
      } catch (error) {
        const file = error instanceof DrystrokeError && error.code === 'file-access'
        if (!file || (i === 0 && !existsSync(folder))) {
          failure = { error }
          progress.end('failed')
          break
        }
        // The arms were stopped. What the others came to must not be lost with this one.
        goesOn = !real || standIn
        results.push({ scenario: name, problem: error.message, folder })
        progress.end('the recording failed')
        log[person ? 'info' : 'error']({ scenario: name, folder }, error.message)
      }
    }
  } finally {
    for (const signal of signals) process.off(signal, onSignal)
    giveBack?.()
  }
  if (failure !== null && results.length === 0) throw failure.error
  const notPlayed = inputs.scenarios.slice(results.length).map((s) => s.scenario.name)
  if (args.json) process.stdout.write(resultsJson(results, notPlayed))
  else {
    const aid = separationAid(inputs.rig, provenanceOf(results))
    showResults(results, notPlayed.length, args.out, aid)
  }
  if (failure !== null) throw failure.error
  if (interrupt.stop) return EXIT.stopped
  return exitStatusOfAll(results.map((r) => ('problem' in r ? EXIT.incomplete : exitStatus(r.verdict))))
}

/** Real arms that were stopped, or whose run was cut short, are not enabled again for the next scenario: a person begins anew. */
function allWent({ verdict }: PlayResult): boolean {
  return verdict.ended === 'completed' && (verdict.stop === null || verdict.outcome === 'pass')
}

/** For real arms only. @throws DrystrokeError `not-confirmed` */
async function letMove(inputs: Inputs, confirm: string | undefined): Promise<Confirmed | null> {
  const person = process.stdin.isTTY ? askOn(process.stdin, process.stderr) : null
  try {
    const say = (text: string): void =>
      void process.stderr.write(`${wrapLines(text, columnsOf(process.stderr))}\n`)
    return await mayMove(inputs, { say, ask: person?.ask ?? null, confirm })
  } finally {
    person?.close()
  }
}

/** As its recordings will tell it. */
function overallThen(overall: ConfirmedOverall): OverallStopThen {
  if (overall.test === null) return { time: null, says: overall.lacks }
  return { time: overall.test.overall, says: overall.test.confirmed }
}

/** Of any of the runs: what people vouch for is of the rig, not of a scenario. */
function provenanceOf(results: readonly Result[]): Provenance | null {
  const recorded = results.find((r) => 'verdict' in r)
  return recorded ? readProvenance(recorded.folder) : null
}

function refuseNoFolder(out: string): void {
  if (isFile(out))
    throw new DrystrokeError(
      'usage',
      `--out ${out}: this is a file; expected a folder, or a name for a new one`,
    )
}

function resultsJson(results: readonly Result[], notPlayed: readonly string[]): string {
  const runs = results.flatMap((r) =>
    'problem' in r ? [] : [{ folder: r.folder, verdict: JSON.parse(verdictJson(r.verdict)) }],
  )
  const notRecorded = results.filter((r) => 'problem' in r)
  return `${JSON.stringify({ runs, notRecorded, notPlayed }, null, 2)}\n`
}

function showResults(results: readonly Result[], notPlayed: number, out: string, aid: SeparationAid): void {
  const screen = { colour: hasColour(process.stdout), width: columnsOf(process.stdout) }
  const rows = results.map((r) => ('problem' in r ? r : r.verdict))
  process.stdout.write(verdictTable(rows, screen, notPlayed))
  for (const v of rows)
    if ('outcome' in v && needsFindings(v)) process.stdout.write(`\n${findingsBlock(v, screen)}`)
  process.stdout.write(`\n${separationBlock(aid, screen.width)}`)
  process.stdout.write(`\nRecordings, each with report.html, are in ${out}\n`)
  for (const [i, r] of results.entries()) {
    const row = rows[i]!
    // Where a recording lies is told when it is not where its name says, and when somebody will want to open it.
    const passed = 'outcome' in row && row.outcome === 'pass'
    if (!passed || basename(r.folder) !== row.scenario)
      process.stdout.write(`  ${row.scenario}: ${r.folder}\n`)
  }
}
