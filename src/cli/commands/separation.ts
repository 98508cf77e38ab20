/** `drystroke separation`: a separation distance from the overall stopping time of the rig's hard-wired stop. */
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import { overallNow } from '../../ready/overall-stop.js'
import { wrap } from '../../report/wrap.js'
import { showQuantity } from '../../units.js'
import {
  EDITION,
  ORIGIN,
  OverallStop,
  SEPARATION_CAUTION,
  separation as separationOf,
  showMillimetres,
} from '../../verdict/separation.js'
import { readRig } from '../inputs.js'
import { columnsOf } from '../screen.js'

export interface SeparationArguments {
  readonly rig: string | undefined
  readonly bus: readonly string[]
  /** m */
  readonly detection: number | undefined
  readonly json: boolean
}

/** @throws DrystrokeError `usage` when anything that the distance rests on is missing */
export function separation({ rig: given, bus, detection, json }: SeparationArguments): ExitStatus {
  if (detection === undefined)
    throw new DrystrokeError(
      'usage',
      'Say what the protective device detects: --detection SIZE, for example --detection "14 mm"',
    )
  const onFile = readRig(given, bus)
  const { rig, rigFile: file } = onFile
  const confirmed = overallNow(onFile)
  const overall = OverallStop.of(rig.stop.overall, confirmed.test)
  if (overall === null) {
    const lacks = confirmed.test === null ? `${confirmed.lacks}, and ` : ''
    throw new DrystrokeError(
      'usage',
      `${file}: ${lacks}the rig states no overall stopping time of the hard-wired stop; no stop by bus or of simulated arms may take its place. Measure it on the real arms, from the protective device's answer to the last part at rest; then enter it (drystroke jog --rig ${file} --hard-stop), or state it in the rig: stop: { overall: { time: "...", entered: "who, when, how it was measured" } }`,
      { file },
    )
  }
  const result = separationOf(overall, detection)
  if (json) {
    const { time, origin, source } = overall
    const basis = { overallStop: { time, origin, source }, detection }
    const all = {
      format: 'drystroke-separation-1',
      rig: rig.name,
      ...basis,
      ...result,
      caution: SEPARATION_CAUTION,
    }
    process.stdout.write(`${JSON.stringify(all, null, 2)}\n`)
    return EXIT.pass
  }
  const width = columnsOf(process.stdout)
  const { distance, speed, intrusion, least } = result
  const sum = `${1000 * speed} mm/s x ${showQuantity(overall.time, 's', 4)} + ${showMillimetres(intrusion)}`
  const lines = [
    `Separation distance of ${rig.name}, ${EDITION}, detection up to 40 mm`,
    '',
    `  overall stopping time T   ${showQuantity(overall.time, 's', 4)}, hard-wired stop, ${ORIGIN[overall.origin]}:`,
    ...wrap(overall.source, width, 28),
    `  detection capability d    ${showQuantity(1000 * detection, 'none', 4)} mm`,
    ...wrap(
      `  S = K T + 8 (d - 14 mm)   ${sum}${least === null ? '' : `, but at least ${least}`}`,
      width,
      0,
      28,
    ),
    '',
    `  S = ${showMillimetres(distance)}`,
    '',
    ...wrap(SEPARATION_CAUTION, width, 0),
  ]
  process.stdout.write(`${lines.join('\n')}\n`)
  return EXIT.pass
}
