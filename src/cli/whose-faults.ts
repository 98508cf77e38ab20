/** Faults that nobody would bring about are refused before anything moves: a run that only writes them down shows nothing. */
import { DrystrokeError } from '../errors.js'
import { FAULTS, faultPlace } from '../files/faults/catalogue.js'
import type { Rig } from '../files/rig.js'
import type { ScenarioInput } from './inputs.js'

/** @param standIn the arms are one; @throws DrystrokeError `usage` that names every such scenario with its faults */
export function refuseFaultsOfNobody(
  rig: Rig,
  scenarios: readonly Pick<ScenarioInput, 'file' | 'scenario'>[],
  standIn: boolean,
): void {
  const real = rig.buses.some(({ address }) => address.kind !== 'mock')
  if (!real) {
    if (!standIn) return
    throw new DrystrokeError(
      'usage',
      `--stand-in: rig ${rig.name} has mock buses only, whose arms live in the run itself; leave it out, or say with --bus where the stand-in serves`,
      { rig: rig.name },
    )
  }
  const ofArms: string[] = []
  const ofBuses: string[] = []
  for (const { file, scenario } of scenarios) {
    for (const fault of scenario.faults) {
      const { target } = FAULTS[fault.fault]
      const place = faultPlace(fault, rig)
      const line = `${file}: ${fault.fault}${place && ` at ${place}`}`
      if (target === 'bus') ofBuses.push(`${line}, a fault of a mock bus`)
      else if (standIn) continue
      else if (target === 'driver' || target === 'clock')
        ofArms.push(`${line}, a fault that real arms would move by`)
      else ofArms.push(`${line}, a fault of simulated arms`)
    }
  }
  if (ofArms.length + ofBuses.length === 0) return
  const advice = [
    ...(ofArms.length > 0
      ? ['Real arms cannot be made to fail: join a drystroke stand-in --orders PATH with --stand-in PATH.']
      : []),
    ...(ofBuses.length > 0
      ? ['Real buses cannot be made to fail: leave these scenarios out, or play them with --bus mock.']
      : ['Or play them with --bus mock.']),
  ]
  throw new DrystrokeError(
    'usage',
    `Nothing was run: rig ${rig.name} has real buses, and nobody there could bring these faults about:\n` +
      `${[...ofArms, ...ofBuses].map((line) => `  - ${line}`).join('\n')}\n${advice.join('\n')}`,
    { rig: rig.name },
  )
}
