/** A driver leads arms of another process, in real time, on the buses that it is given. */
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { ReferenceDriver } from '../../src/driver/reference.js'
import { loadRig } from '../../src/files/load.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { rigWith } from './own-driver.js'
import { PATIENT_RIG } from './patient-rig.js'
import { Program } from './program.js'
import { change } from './runs.js'

const SCENARIO = `name: ahead
about: Short, ahead.
duration: "7 s"
commands:
  - { at: "0.5 s", surge: "0.12 m/s", yaw: "0 deg/s", over: "1 s" }
  - { at: "5 s", ceases: true }
expect: { outcome: finish, parked: true }
`

export interface Trial {
  readonly status: number | null
  readonly verdict: {
    readonly outcome: string
    readonly sentence: string
    readonly findings: readonly { readonly watch: string; readonly quantity: string; readonly says: string }[]
    readonly watches: readonly {
      readonly watch: string
      readonly figures: readonly { readonly name: string; readonly value: number }[]
    }[]
  }
  /** Lines of the log. */
  readonly log: readonly string[]
  readonly folder: string
}

/** The arms stand where the reference driver starts: the way there is short. */
export function atPark(rigText: string): string {
  const pose = new ReferenceDriver(loadRig(rigText, 'rig.yaml', watchSchemas)).parkPose
  let joint = 0
  // A degree off, so that there is a way to go.
  return change(rigText, /start: "[^"]*"/g, () => `start: "${(pose[joint++]! * 180) / Math.PI + 1} deg"`)
}

/**
 * @param buses addresses of either side
 * @param work an empty folder
 */
export async function driverTrial(
  run: readonly string[],
  buses: readonly [string, string],
  work: string,
  scenarioText = SCENARIO,
): Promise<Trial> {
  // Commands may wait, and the arms go slowly: the machine may be busy with anything.
  const rig = rigWith(run, ['answer: "2 s"', 'handshake: "40 s"'], atPark(PATIENT_RIG))
  const [rigFile, scenario, orders] = ['rig.yaml', 'scenario.yaml', 'arms.sock'].map((name) =>
    join(work, name),
  )
  writeFileSync(rigFile!, rig)
  writeFileSync(scenario!, scenarioText)
  const over = ['--rig', rigFile!, '--bus', `port-can=${buses[0]}`, '--bus', `starboard-can=${buses[1]}`]
  const arms = new Program('stand-in', ...over, '--orders', orders!, '--json')
  try {
    await arms.line(/"serving"/)
    const told = ['--stand-in', orders!, '--out', join(work, 'out'), '--json', '--log-level', 'info']
    const bench = new Program('run', scenario!, ...over, ...told)
    const status = await bench.ended()
    const said = bench.out.join('\n')
    if (!said.startsWith('{')) throw new Error(`no verdict, but:\n${[...bench.out, ...bench.err].join('\n')}`)
    const [played] = JSON.parse(said).runs
    return { status, verdict: played.verdict, log: bench.err, folder: played.folder }
  } finally {
    await arms.end('SIGKILL')
  }
}
