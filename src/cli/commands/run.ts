/** `drystroke run`: plays scenarios on a rig, one recording folder each, and shows the verdicts. */
import { type PlayResult, playScenario } from '../../bench/play.js'
import type { Interrupt } from '../../bench/virtual.js'
import { checkReach } from '../../driver/reach.js'
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import { findingsBlock, verdictTable } from '../../report/terminal.js'
import { verdictJson } from '../../report/verdict-json.js'
import { exitStatus, exitStatusOfAll } from '../../verdict/exit.js'
import { readInputs } from '../inputs.js'
import { openLog } from '../log.js'
import { progressOn } from '../progress.js'
import { refuseUnreachable } from '../reach.js'
import { hasColour } from '../screen.js'

export interface RunArguments {
  readonly scenarios: readonly string[]
  readonly rig: string | undefined
  readonly out: string
  readonly seed: number
  readonly json: boolean
  readonly logLevel: string
}

/** @throws DrystrokeError on bad input: then nothing was run and nothing written */
export async function run(args: RunArguments): Promise<ExitStatus> {
  const log = openLog(args.logLevel)
  if (!Number.isSafeInteger(args.seed) || args.seed < 0) {
    throw new DrystrokeError(
      'usage',
      `--seed ${args.seed}: expected a whole number from 0 on, for example --seed 1`,
    )
  }
  const inputs = readInputs(args.scenarios, args.rig)
  refuseUnreachable(inputs.rigFile, checkReach(inputs.rig))

  const interrupt: { signal: string | null } & Interrupt = { signal: null }
  const onSignal = (name: string): void => {
    interrupt.signal = name
    log.warn({ signal: name }, 'stopping')
  }
  process.on('SIGINT', onSignal).on('SIGTERM', onSignal)
  const progress = progressOn(process.stderr)
  const results: PlayResult[] = []
  try {
    for (const [i, input] of inputs.scenarios.entries()) {
      if (interrupt.signal) break
      progress.begin(input.scenario, i + 1, inputs.scenarios.length)
      log.info({ scenario: input.scenario.name }, 'run begins')
      const { verdict, folder } = await playScenario({
        ...inputs,
        ...input,
        scenarioFile: input.file,
        scenarioText: input.text,
        outDir: args.out,
        seed: args.seed,
        interrupt,
        onProgress: progress.at,
      })
      results.push({ verdict, folder })
      progress.end(verdict.outcome)
      log.info({ scenario: input.scenario.name, outcome: verdict.outcome, folder }, 'run ended')
    }
  } finally {
    process.off('SIGINT', onSignal).off('SIGTERM', onSignal)
  }
  if (args.json) {
    process.stdout.write(
      `${JSON.stringify({ runs: results.map((r) => ({ folder: r.folder, verdict: JSON.parse(verdictJson(r.verdict)) })) }, null, 2)}\n`,
    )
  } else showResults(results, args.out)
  if (interrupt.signal) return EXIT.stopped
  return exitStatusOfAll(results.map((r) => exitStatus(r.verdict)))
}

function showResults(results: readonly PlayResult[], out: string): void {
  const screen = { colour: hasColour(process.stdout) }
  const verdicts = results.map((r) => r.verdict)
  process.stdout.write(verdictTable(verdicts, screen))
  for (const v of verdicts) if (v.outcome !== 'pass') process.stdout.write(`\n${findingsBlock(v, screen)}`)
  process.stdout.write(`\nRecordings, each with report.html, are in ${out}\n`)
}
