/** A rig whose arms stand in a URDF file, from the command line to a recording that no longer needs the file. */
import { cpSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { drystroke } from '../setup/command.js'
import { change, temporaryFolder } from '../setup/runs.js'

const root = new URL('../../', import.meta.url).pathname
const out = temporaryFolder()
const rig = join(out, 'reservoir-skiff-urdf.yaml')
const urdf = join(out, 'skiff-arm.urdf')
cpSync(join(root, 'rigs/reservoir-skiff-urdf.yaml'), rig)
cpSync(join(root, 'rigs/skiff-arm.urdf'), urdf)
const scenario = join(root, 'scenarios/slow-ahead.yaml')

describe('a rig with a URDF file', () => {
  it('is checked, and what is not read of the file is said', () => {
    const { status, stdout } = drystroke('check', scenario, '--rig', rig)
    expect(status).toBe(0)
    expect(stdout.replace(/\s+/g, ' ')).toContain(
      `skiff-arm.urdf: passed over 7 <visual>: nothing is read of them`,
    )
    expect(stdout).toMatch(/^ {2}pass {2}reach +port: /m)
    const { notes } = JSON.parse(drystroke('check', scenario, '--rig', rig, '--json').stdout)
    expect(notes).toHaveLength(1)
  })

  it('passes a scenario, and its recording is judged the same when the file is gone', () => {
    const played = drystroke('run', scenario, '--rig', rig, '--out', join(out, 'runs'))
    expect(played.status).toBe(0)
    const [name] = readdirSync(join(out, 'runs'))
    const recording = join(out, 'runs', name!)
    const verdict = readFileSync(join(recording, 'verdict.json'), 'utf8')
    rmSync(rig)
    rmSync(urdf)
    const judged = drystroke('judge', recording)
    expect(judged.status).toBe(0)
    expect(readFileSync(join(recording, 'verdict.json'), 'utf8')).toBe(verdict)
    expect(readFileSync(join(recording, 'rig.yaml'), 'utf8')).not.toContain('urdf:')
    cpSync(join(root, 'rigs/reservoir-skiff-urdf.yaml'), rig)
  })

  it('is refused with the place in the URDF file', () => {
    const text = readFileSync(join(root, 'rigs/skiff-arm.urdf'), 'utf8')
    writeFileSync(
      urdf,
      change(text, 'name="elbow_joint" type="revolute"', 'name="elbow_joint" type="prismatic"'),
    )
    const { status, stderr, stdout } = drystroke('check', scenario, '--rig', rig)
    expect(status).toBe(2)
    expect(stdout).toBe('')
    expect(stderr).toMatch(/skiff-arm\.urdf:\d+:29: joint elbow_joint: found a joint of type "prismatic"/)
  })
})
