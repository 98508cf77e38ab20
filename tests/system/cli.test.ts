/** The command line as a user calls it: exit statuses, streams, and nothing written on bad input. */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { change, DEMO_RIG, scenarioText, temporaryFolder } from '../setup/runs.js'

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
  it.each([['--help'], ['run', '--help'], ['check', '--help'], ['envelope', '--help'], ['judge', '--help']])(
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
    [['run', 'demo', '--seed', '1.5'], /--seed 1\.5: expected a whole number/],
    [['run', 'demo', '--seed', 'banana'], /--seed banana: expected/],
    [['run', 'demo', '--seed'], /--seed stands without a value/],
    [['run', 'demo', '--out'], /--out stands without a value/],
    [['run', 'demo', '--out', ''], /--out is empty/],
    [['run', 'demo', '--rig', ''], /--rig is empty/],
    [['runn', 'demo'], /did you mean "run"/],
    [['run', 'demo', '--rgi', RIG], /did you mean "--rig"/],
    [['check', join(root, 'scenarios/slow-ahed.yaml'), '--rig', RIG], /did you mean "slow-ahead\.yaml"/],
    [['run', 'demo', '--out', RIG], /this is a file/],
    [['judge', RIG], /is a file; a recording is the folder/],
    [['judge', join(RIG, 'nothing')], /is no recording/],
    [['run', 'scenarios-that-are-not-there', '--rig', RIG], /no such file or folder/],
    [['run', join(root, 'scenarios'), '--rig', 'no-rig.yaml'], /no-rig\.yaml/],
    [['run', join(root, 'scenarios')], /--rig/],
    [['judge', 'no-recording'], /no-recording/],
    [['envelope'], /--rig/],
    [
      ['envelope', '--rig', RIG, '--directions', '7'],
      /--directions 7: expected a whole number from 8 to 720/,
    ],
    [
      ['envelope', '--rig', RIG, '--out', '/proc/nope/page.html'],
      /--out \/proc\/nope\/page\.html: .*name a folder, or a file/,
    ],
    [['envelope', '--rig', RIG, '--cruise', '0.4'], /--cruise: "0\.4" has no unit/],
    [['envelope', '--rig', RIG, '--cruise', '0 m/s, 10 deg/s'], /turns on the spot goes nowhere/],
    [['envelop', '--rig', RIG], /did you mean "envelope"/],
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

  it('says where a limit stands that the watches could not see a breach of', () => {
    const blind = file(
      'blind.yaml',
      change(DEMO_RIG, 'acceleration: "1500 deg/s2"', 'acceleration: "10 deg/s2"'),
    )
    const { status, stderr } = drystroke('check', join(root, 'scenarios'), '--rig', blind)
    expect(status).toBe(2)
    expect(stderr).toMatch(
      /blind\.yaml:\d+:\d+: arms\.port\.joints\.swing\.limits\.acceleration: .*noise floor/,
    )
  })

  it('refuses a stroke that cannot be reached before it writes anything', () => {
    const far = file(
      'far.yaml',
      change(DEMO_RIG, /(middle: "0 m"\n {2}length: )"[^"]+"/, (_, head) => `${head}"2 m"`),
    )
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

  it('envelope places the commands of scenarios, says so in its status, and writes its page where it is told', () => {
    const page = join(out, 'pages/of the rig/envelope.html')
    const fast = file(
      'fast.yaml',
      change(scenarioText('slow-ahead'), /surge: "0\.3 m\/s"/, 'surge: "2.9 m/s"'),
    )
    const asked = ['envelope', '--rig', RIG, '--directions', '8'] as const
    const inside = drystroke(...asked, join(root, 'scenarios'), '--out', join(out, 'pages/of the rig'))
    expect(inside).toMatchObject({ status: 0, stderr: '' })
    expect(inside.stdout).toMatch(/^All \d+ commands are inside/m)
    expect(inside.stdout).toContain(`The page is ${page}`)
    for (const line of inside.stdout.split('\n'))
      if (!line.includes(out)) expect(line.length).toBeLessThanOrEqual(80)
    expect(readFileSync(page, 'utf8')).toMatch(/^<!doctype html>[\s\S]*<\/html>\n$/)
    const outside = drystroke(...asked, fast, '--json')
    expect(outside.status).toBe(1)
    const { format, inside: all, commands } = JSON.parse(outside.stdout)
    expect({ format, all }).toEqual({ format: 'drystroke-envelope-1', all: false })
    expect(commands.find((c: { surge: number }) => c.surge === 2.9).share).toBeGreaterThan(1)
    const far = file(
      'far-off.yaml',
      change(DEMO_RIG, /(middle: "0 m"\n {2}length: )"[^"]+"/, (_, head) => `${head}"2 m"`),
    )
    const unreached = drystroke('envelope', '--rig', far, '--directions', '8')
    expect(unreached.status).toBe(2)
    expect(unreached.stdout).toMatch(/ahead +none +reach, port and starboard/)
  })

  it('envelope says what to expect of a cruise, on the terminal, as JSON and on its page; what a rig lacks for it is said', () => {
    const page = join(out, 'cruise.html')
    const asked = ['envelope', '--rig', RIG, '--directions', '8', '--cruise', '0.4 m/s'] as const
    const told = drystroke(...asked, '--out', page)
    expect(told).toMatchObject({ status: 0, stderr: '' })
    expect(told.stdout).toMatch(/^Cruise at 0\.4 m\/s: what to expect of it afloat$/m)
    expect(told.stdout).toMatch(/^ {2}endurance +[\d.]+ h$/m)
    for (const line of told.stdout.split('\n'))
      if (!line.includes(out)) expect(line.length).toBeLessThanOrEqual(80)
    expect(readFileSync(page, 'utf8')).toContain('Cruise at 0.4\u00a0m/s')
    const { cruise, afloat } = JSON.parse(drystroke(...asked, '--json').stdout)
    expect(cruise.placed).toMatchObject({ surge: 0.4, yaw: 0 })
    expect(cruise.battery.range).toBeGreaterThan(100)
    expect(afloat.length).toBeGreaterThan(7)
    const dry = file('no-hull.yaml', change(DEMO_RIG, /\nhull:[\s\S]*?\n(?=mount:)/, '\n'))
    const lacking = drystroke(...asked.map((a) => (a === RIG ? dry : a)))
    expect({ status: lacking.status, stdout: lacking.stdout }).toEqual({ status: 2, stdout: '' })
    expect(lacking.stderr).toMatch(/--cruise: .*lacks the section hull; add it to the rig file/)
    const beyond = drystroke('envelope', '--rig', RIG, '--directions', '8', '--cruise', '1.5 m/s')
    expect(beyond.status).toBe(1)
    expect(beyond.stdout).toMatch(/^ {2}OUTSIDE, at \d+ % of the way to the boundary/m)
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

  it('shows plain lines when it is not on a terminal; judge shows the verdict of a recording that it may not write to, and says what is missing', () => {
    const ran = drystroke('run', join(root, 'scenarios/slow-ahead.yaml'), '--rig', RIG, '--out', 'plain')
    // biome-ignore lint/suspicious/noControlCharactersInRegex: that there are none is the point
    expect(ran.stdout + ran.stderr).not.toMatch(/[\r\x1b]/)
    expect(ran.stdout).toMatch(/slow-ahead/)
    const folder = join(out, 'plain/slow-ahead')
    // A folder where the file is made; permissions would not hold root back.
    mkdirSync(join(folder, 'junit.xml.part'))
    const { status, stdout, stderr } = drystroke('judge', folder)
    expect(status).toBe(0)
    expect(stdout).toMatch(/^PASS +slow-ahead/m)
    expect(stderr).toMatch(/The verdict stands, its reports were not all written: .*junit\.xml/)
    expect(drystroke('judge', join(folder, 'report.html')).stderr).toContain(`drystroke judge ${folder}`)
  })

  it('a recording that cannot be written to its end is told as such: status 4, the others stay', () => {
    // Files may grow to 8 MB (POSIX: blocks of 512 bytes): room for 12 s, not for 45 s.
    const scenarios = ['crawl', 'operator-stop'].map((name) => join(root, `scenarios/${name}.yaml`))
    const args = ['run', ...scenarios, '--rig', RIG, '--out', join(out, 'full')]
    const { status, stdout, stderr } = spawnSync(
      '/bin/sh',
      ['-c', 'ulimit -f 16000 && exec "$@"', 'sh', process.execPath, join(root, 'dist/cli/main.js'), ...args],
      { cwd: out, encoding: 'utf8' },
    )
    expect({ status, defect: /defect/.test(stderr) }).toEqual({ status: 4, defect: false })
    expect(stdout).toMatch(/^NO VERDICT +crawl\n +The recording failed: .*frames\.pcapng/m)
    expect(stdout).toMatch(/^PASS +operator-stop/m)
    expect(stdout).toMatch(/^2 runs: 1 passed, 0 failed, 0 incomplete, 1 not recorded$/m)
    expect(stdout).toContain(`crawl: ${join(out, 'full/crawl')}`)
  })

  it.runIf(process.platform === 'linux')('gives up on a folder that cannot be made', () => {
    // Node's recursive mkdir never returns here.
    const { status, stderr } = drystroke(
      ...['run', join(root, 'scenarios/slow-ahead.yaml'), '--rig', RIG, '--out', '/proc/nope/deep'],
    )
    expect(status).toBe(2)
    expect(stderr).toMatch(/\/proc\/nope\/deep\/slow-ahead cannot be made/)
  })

  it('goes on to its end and its status when nobody reads its output any more', () => {
    const { stdout, stderr } = spawnSync(
      '/bin/sh',
      [
        '-c',
        '{ "$@"; echo "status $?" >&2; } | true',
        'sh',
        ...[process.execPath, join(root, 'dist/cli/main.js'), 'check', 'demo', '--json'],
      ],
      { cwd: out, encoding: 'utf8' },
    )
    expect({ stdout, stderr }).toEqual({ stdout: '', stderr: 'status 0\n' })
  })

  it('tells where a recording lies when its folder has another name than the scenario', () => {
    const again = () =>
      drystroke('run', join(root, 'scenarios/operator-stop.yaml'), '--rig', RIG, '--out', 'again').stdout
    expect(again()).not.toContain('operator-stop: ')
    expect(again()).toContain(`operator-stop: ${join('again', 'operator-stop-2')}\n`)
  })

  it('check gives each side its own speed', () => {
    const files = ['one-side', 'pivot-to-port'].map((name) => join(root, `scenarios/${name}.yaml`))
    const { stdout } = drystroke('check', ...files, '--rig', RIG)
    expect(stdout).toMatch(/one-side +port +0\.00 +parked$/m)
    expect(stdout).toMatch(/^ +starboard +0\.30 +\d+ % \w+ +\d+ % \w+$/m)
    expect(stdout).toMatch(/pivot-to-port +port +0\.2\d +\d/)
  })

  it('check says what it found without running', () => {
    const { status, stdout } = drystroke('check', join(root, 'scenarios'), '--rig', RIG)
    expect(status).toBe(0)
    expect(stdout).toMatch(/^Preflight: (pass|warn)$/m)
    expect(stdout).toMatch(/^ {2}pass {2}reach +port: /m)
    expect(existsSync(join(out, 'recordings'))).toBe(false)
  })

  it('check fails when one of its lines does, and names the line and the figure', () => {
    const crowded = file('crowded.yaml', change(DEMO_RIG, 'bitrate: "1 Mbit/s"', 'bitrate: "125 kbit/s"'))
    const slow = join(root, 'scenarios/slow-ahead.yaml')
    const { status, stdout } = drystroke('check', slow, '--rig', crowded)
    expect(status).toBe(1)
    expect(stdout).toMatch(/^Preflight: fail$/m)
    expect(stdout).toMatch(/^ {2}fail {2}bus load +port-can: 250 % of what it carries, at most 80 %$/m)
    expect(stdout).toMatch(/^ {2}fail {2}response time +port-can: no bound at worst/m)
    const told = drystroke('check', slow, '--rig', crowded, '--json')
    expect(told.status).toBe(1)
    const { level, lines } = JSON.parse(told.stdout)
    expect(level).toBe('fail')
    expect(lines).toContainEqual(
      expect.objectContaining({
        check: 'bus load',
        level: 'fail',
        place: 'port-can',
        limit: 0.8,
        unit: 'share',
      }),
    )
  })

  it('check says how near the arms come to what, and where in the stroke', () => {
    const slow = join(root, 'scenarios/slow-ahead.yaml')
    const { stdout } = drystroke('check', slow, '--rig', RIG)
    expect(stdout).toMatch(/^Least distance on the commands of each scenario, at least 0\.05 m/m)
    expect(stdout).toMatch(/^ +slow-ahead +0\.\d{3} +port\.\w+, \w+ +0\.\d{3}$/m)
    const { clearance } = JSON.parse(drystroke('check', slow, '--rig', RIG, '--json').stdout)
    expect(clearance).toEqual([
      {
        scenario: 'slow-ahead',
        distance: expect.any(Number),
        between: [expect.stringMatching(/^port\./), expect.any(String)],
        phases: [expect.any(Number)],
      },
    ])
  })

  it('check fails where an arm comes too near, and says where it cannot know', () => {
    const slow = join(root, 'scenarios/slow-ahead.yaml')
    const farther = change(
      change(DEMO_RIG, 'least: "50 mm"', 'least: "20 cm"'),
      'warn: "100 mm"',
      'warn: "20 cm"',
    )
    const strict = file('strict.yaml', farther)
    const near = drystroke('check', slow, '--rig', strict)
    expect(near.status).toBe(1)
    expect(near.stdout).toMatch(/^ +slow-ahead +0\.\d{3}, too near +port\./m)
    const bare = file('bare.yaml', change(DEMO_RIG, /\nclearance:[\s\S]*?\n\n/, '\n'))
    const blind = drystroke('check', slow, '--rig', bare)
    expect(blind.status).toBe(0)
    expect(blind.stdout).toMatch(/^No distances: the rig has no section clearance/m)
    expect(JSON.parse(drystroke('check', slow, '--rig', bare, '--json').stdout).clearance).toBeNull()
  })
})
