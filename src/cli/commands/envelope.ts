/** `drystroke envelope`: how fast in every direction, what gives out first there, and where scenarios' commands lie. Nothing runs. */
import { join } from 'node:path'
import { envelopeOf } from '../../driver/envelope/envelope.js'
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import type { Command } from '../../files/scenario.js'
import type { Study } from '../../motion/cruise.js'
import { allInside } from '../../motion/envelope.js'
import { makeAbove, writeWhole } from '../../record/folder.js'
import { envelopeText } from '../../report/envelope.js'
import { ENVELOPE_CAUTION } from '../../report/envelope-words.js'
import { envelopeHtml } from '../../report/page/envelope.js'
import { readInputs } from '../inputs.js'
import { columnsOf } from '../screen.js'

export interface EnvelopeArguments {
  readonly scenarios: readonly string[]
  readonly rig: string | undefined
  readonly bus: readonly string[]
  readonly directions: number
  /** Of which speed, power and endurance are wanted. */
  readonly cruise: Command | undefined
  /** A folder, or a file that ends in .html. */
  readonly out: string | undefined
  readonly json: boolean
}

/** Name of the page in a folder. */
const PAGE = 'envelope.html'

/** @throws DrystrokeError on bad files, and when the page cannot be written */
export function envelope(args: EnvelopeArguments): ExitStatus {
  const { rig, rigFile, scenarios, notes } = readInputs(args.scenarios, args.rig, args.bus)
  const found = envelopeOf(
    rig,
    scenarios.map(({ scenario }) => scenario),
    args.directions,
    args.cruise ?? null,
  )
  const about = { rigFile, scenarios: scenarios.length, notes }
  const page = args.out === undefined ? null : writePage(args.out, envelopeHtml(found, about))
  if (args.json) {
    const { rig: name, ...rest } = found
    const head = { format: 'drystroke-envelope-1', rig: name, notes, caution: ENVELOPE_CAUTION }
    process.stdout.write(`${JSON.stringify({ ...head, inside: allInside(found), ...rest }, null, 2)}\n`)
  } else {
    process.stdout.write(envelopeText(found, about, columnsOf(process.stdout)))
    if (page !== null) process.stdout.write(`\nThe page is ${page}\n`)
  }
  return statusOf(found)
}

/** As `check` has it: a stroke that is not reached is bad input. */
function statusOf(found: Study): ExitStatus {
  if (found.sides.some(({ limit }) => limit?.item === 'reach')) return EXIT.badInput
  const cruises = found.cruise === null || found.cruise.placed.share <= 1
  return allInside(found) && cruises ? EXIT.pass : EXIT.fail
}

/** @returns where it is */
function writePage(out: string, html: string): string {
  const path = out.endsWith('.html') ? out : join(out, PAGE)
  try {
    makeAbove(path)
  } catch (cause) {
    const reason = (cause as Error).message
    throw new DrystrokeError(
      'file-access',
      `--out ${out}: ${reason}; name a folder, or a file that ends in .html`,
      { file: path },
      cause,
    )
  }
  writeWhole(path, html)
  return path
}
