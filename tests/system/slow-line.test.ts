/** A serial port that is too slow for the rig is refused by every command that reads it, before anything is opened or written. */
import { spawnSync } from 'node:child_process'
import { existsSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { change, DEMO_RIG, temporaryFolder } from '../setup/runs.js'

const root = new URL('../../', import.meta.url).pathname
const out = temporaryFolder()
const rig = join(out, 'rig.yaml')

function drystroke(...args: string[]) {
  return spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), ...args], {
    cwd: out,
    encoding: 'utf8',
  })
}

const SLOW = [
  'bus port-can: /dev/ttyUSB0 is too slow for the rig at 200 Hz:',
  'to the arms 1650 frames/s want 306 of 115 kbit/s, from the arms 1320 frames/s want 410 of 115 kbit/s',
  "State the port's true rate as serial-rate",
]

it.each([
  ['check', 'mock', 'slcan:/dev/ttyUSB0', []],
  ['check', 'mock', 'mock', ['--bus', 'port-can=slcan:/dev/ttyUSB0']],
  ['run', 'mock', 'slcan:/dev/ttyUSB0', []],
  ['run', 'mock', 'mock', ['--bus', 'port-can=slcan:/dev/ttyUSB0']],
])('%s refuses %s -> %s %s', (command, from, to, more) => {
  writeFileSync(rig, from === to ? DEMO_RIG : change(DEMO_RIG, `address: ${from}`, `address: ${to}`))
  const { status, stderr, stdout } = drystroke(
    command,
    join(root, 'scenarios/crawl.yaml'),
    '--rig',
    rig,
    ...more,
  )
  expect([status, stdout]).toEqual([2, ''])
  // However the terminal breaks the lines.
  const said = stderr.replaceAll(/\s+/g, ' ')
  for (const words of SLOW) expect(said).toContain(words)
  expect(existsSync(join(out, 'recordings'))).toBe(false)
})

it.each([
  // Enough for all that is sent, and yet feedback may come after the next SYNC.
  ['1 Mbit/s', 1, /fail {2}response time {3}port-can: 7\.\d+ ms at worst/],
  ['4 Mbit/s', 0, /pass {2}response time {3}port-can: /],
])('check lets a port of %s pass if it carries all in time', (rate, ends, says) => {
  const fast = change(DEMO_RIG, 'address: mock', `address: slcan:/dev/ttyUSB0\n    serial-rate: "${rate}"`)
  writeFileSync(rig, fast)
  const { status, stdout } = drystroke('check', join(root, 'scenarios/crawl.yaml'), '--rig', rig)
  expect(status).toBe(ends)
  expect(stdout).toMatch(says)
})

it('survey refuses it too, and opens nothing', () => {
  writeFileSync(rig, DEMO_RIG)
  const all = ['--bus', 'port-can=slcan:/dev/ttyUSB0', '--bus', 'starboard-can=slcan:tcp:127.0.0.1:1']
  const { status, stderr } = drystroke('survey', '--rig', rig, ...all)
  expect(status).toBe(2)
  for (const words of SLOW) expect(stderr.replaceAll(/\s+/g, ' ')).toContain(words)
})
