/** The command line as a user calls it: exit statuses, streams, and nothing written on bad input. */
import { spawnSync } from 'node:child_process'
import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { change, DEMO_RIG, SCENARIOS, scenarioText, temporaryFolder } from '../setup/runs.js'

const root = new URL('../../', import.meta.url).pathname
const RIG = join(root, 'rigs/reservoir-skiff.yaml')
const out = temporaryFolder()

function drystroke(...args: string[]): { status: number | null; stdout: string; stderr: string } {
  return spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), ...args], {
    cwd: out,
    encoding: 'utf8',
    maxBuffer: 1 << 26,
  })
}

function file(name: string, text: string): string {
  const path = join(out, name)
  writeFileSync(path, text)
  return path
}

describe('drystroke', () => {
  it.each([['--help'], ['run', '--help'], ['check', '--help'], ['judge', '--help']])(
    '%s %s shows an example',
    (...args) => {
      const { status, stdout } = drystroke(...args)
      expect(status).toBe(0)
      expect(stdout).toMatch(args[0] === '--help' ? /drystroke <command>/ : /Examples:/)
      for (const line of stdout.split('\n')) expect(line.length).toBeLessThanOrEqual(100)
    },
  )

  it.each([
    [[], /which command/i],
    [['walk'], /walk/],
    [['run'], /scenario/],
    [['run', 'demo', '--sede', '3'], /sede/],
    [['run', 'demo', '--seed', '1.5'], /--seed/],
    [['run', 'scenarios-that-are-not-there', '--rig', RIG], /no such file or folder/],
    [['run', join(root, 'scenarios'), '--rig', 'no-rig.yaml'], /no-rig\.yaml/],
    [['run', join(root, 'scenarios')], /--rig/],
    [['judge', 'no-recording'], /no-recording/],
  ])('%j is bad usage: exit 2, a reason, nothing written', (args, reason) => {
    const before = readdirSync(out)
    const { status, stdout, stderr } = drystroke(...args)
    expect({ status, stdout }).toEqual({ status: 2, stdout: '' })
    expect(stderr).toMatch(reason)
    expect(readdirSync(out)).toEqual(before)
  })

  it('names every error of rig and scenarios, and writes nothing', () => {
    const bad = file('bad.yaml', change(scenarioText('joint-silent'), /port\.elbow/g, 'port.elbwo'))
    const worse = file('worse.yaml', change(scenarioText('slow-ahead'), /"0\.3 m\/s"/, '0.3'))
    const { status, stderr } = drystroke('run', bad, worse, '--rig', RIG, '--out', join(out, 'nothing'))
    expect(status).toBe(2)
    expect(stderr).toMatch(/bad\.yaml:\d+:\d+: .*port\.elbwo.*port\.elbow/)
    expect(stderr).toMatch(/worse\.yaml:\d+:\d+: .*unit/)
    expect(existsSync(join(out, 'nothing'))).toBe(false)
  })

  it('refuses a stroke that cannot be reached before it writes anything', () => {
    const far = file('far.yaml', change(DEMO_RIG, /length: "0\.\d+ m"/, 'length: "2 m"'))
    const { status, stderr } = drystroke(
      'run',
      join(root, 'scenarios'),
      '--rig',
      far,
      '--out',
      join(out, 'nothing'),
    )
    expect(status).toBe(2)
    expect(stderr).toMatch(/phase/)
    expect(existsSync(join(out, 'nothing'))).toBe(false)
  })

  it.each([
    ['pass', '', 0],
    ['fail', 'least: 99', 1],
  ])('a run that comes to %s ends with status %i', (outcome, least, expected) => {
    const text = least ? change(scenarioText('slow-ahead'), /least: \d+/, least) : scenarioText('slow-ahead')
    const scenario = file('one.yaml', text)
    const { status, stdout } = drystroke('run', scenario, '--rig', RIG, '--out', join(out, outcome), '--json')
    expect(status).toBe(expected)
    expect(JSON.parse(stdout).runs[0].verdict.outcome).toBe(outcome)
  })

  it('judge --json prints exactly the bytes of verdict.json; a cut recording is incomplete, status 4', () => {
    const folder = join(out, 'pass/slow-ahead')
    const judged = drystroke('judge', folder, '--json')
    expect(judged.status).toBe(0)
    expect(judged.stdout).toBe(readFileSync(join(folder, 'verdict.json'), 'utf8'))
    const frames = join(folder, 'frames.pcapng')
    writeFileSync(frames, readFileSync(frames).subarray(0, 500_000))
    expect(drystroke('judge', folder).status).toBe(4)
  })

  it('shows plain lines when it is not on a terminal', () => {
    const { stdout, stderr } = drystroke(
      'run',
      join(root, 'scenarios/slow-ahead.yaml'),
      '--rig',
      RIG,
      '--out',
      'plain',
    )
    // biome-ignore lint/suspicious/noControlCharactersInRegex: that there are none is the point
    expect(stdout + stderr).not.toMatch(/[\r\x1b]/)
    expect(stdout).toMatch(/slow-ahead/)
  })

  it('check says what it found without running', () => {
    const { status, stdout } = drystroke('check', join(root, 'scenarios'), '--rig', RIG)
    expect(status).toBe(0)
    expect(stdout).toMatch(/port/)
    expect(existsSync(join(out, 'recordings'))).toBe(false)
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
