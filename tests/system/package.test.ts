/** The command as people get it: of a checkout that was built, and of the package that was installed elsewhere. */
import { spawnSync } from 'node:child_process'
import { cpSync, readdirSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { SCENARIOS, temporaryFolder } from '../setup/runs.js'

const root = new URL('../../', import.meta.url).pathname

describe('a checkout', () => {
  const copy = temporaryFolder()

  it('has the command drystroke, also after a second build', () => {
    for (const name of ['src', 'rigs', 'scenarios', 'tests/setup', 'package.json', 'tsconfig.json'])
      cpSync(join(root, name), join(copy, name), { recursive: true })
    symlinkSync(join(root, 'node_modules'), join(copy, 'node_modules'))
    const env = { ...process.env, npm_config_cache: join(copy, 'cache'), npm_config_update_notifier: 'false' }
    const npm = (command: string, ...args: string[]) =>
      spawnSync(command, args, { cwd: copy, encoding: 'utf8', env })
    for (let time = 1; time <= 2; time++) {
      const { status, stderr } = npm('npm', 'run', 'build')
      expect({ status, stderr }).toEqual({ status: 0, stderr: '' })
      const asked = npm('npx', '--no', '--offline', 'drystroke', '--version')
      expect(asked.stderr).toBe('')
      expect(asked.stdout).toMatch(/^\d+\.\d+\.\d+$/m)
    }
  })
})

describe('the package', () => {
  const elsewhere = temporaryFolder()
  beforeAll(() => {
    const packed = spawnSync('npm', ['pack', '--ignore-scripts', '--pack-destination', elsewhere], {
      cwd: root,
      encoding: 'utf8',
    })
    const tarball = packed.stdout.trim().split('\n').at(-1)!
    writeFileSync(join(elsewhere, 'package.json'), '{"private":true}')
    const installed = spawnSync('npm', ['install', '--omit=dev', `./${tarball}`], {
      cwd: elsewhere,
      encoding: 'utf8',
      maxBuffer: 1 << 26,
    })
    if (installed.status !== 0) throw new Error(installed.stderr)
  }, 300_000)

  it('gives the command drystroke, which runs the demo from any folder', () => {
    const ran = spawnSync(join(elsewhere, 'node_modules/.bin/drystroke'), ['run', 'demo', '--json'], {
      cwd: elsewhere,
      encoding: 'utf8',
      maxBuffer: 1 << 26,
    })
    expect(ran.stderr).not.toMatch(/defect/)
    expect(ran.status).toBe(0)
    expect(JSON.parse(ran.stdout).runs).toHaveLength(SCENARIOS.length)
    expect(readdirSync(join(elsewhere, 'recordings'))).toHaveLength(SCENARIOS.length)
    rmSync(join(elsewhere, 'recordings'), { recursive: true })
  })
})
