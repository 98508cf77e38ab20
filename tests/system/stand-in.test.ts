/** Simulated arms in a process of their own, looked at over TCP by another. */
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { freePorts, Program } from '../setup/program.js'

const RIG = join(new URL('../../', import.meta.url).pathname, 'rigs/reservoir-skiff.yaml')

let over: string[]
let programs: Program[]

function start(...args: string[]): Program {
  const program = new Program(...args)
  programs.push(program)
  return program
}

beforeEach(async () => {
  programs = []
  const [port, starboard] = await freePorts(2)
  over = [
    ...['--rig', RIG],
    ...[
      '--bus',
      `port-can=slcan:tcp:127.0.0.1:${port}`,
      '--bus',
      `starboard-can=slcan:tcp:127.0.0.1:${starboard}`,
    ],
  ]
})

afterEach(async () => {
  for (const program of programs) await program.end('SIGKILL')
})

describe('a stand-in over TCP', () => {
  it('answers a survey that asks, is quiet to one that listens, and lacks the joint that was made silent', async () => {
    const arms = start('stand-in', ...over, '--json')
    await arms.line(/"serving"/)

    const asked = start('survey', ...over, '--ask', '--for', '0.2 s', '--json')
    expect(await asked.ended()).toBe(0)
    const picture = JSON.parse(asked.out.join('\n'))
    expect(picture.joints).toHaveLength(12)
    for (const joint of picture.joints)
      expect(joint.answer).toMatchObject({ answered: true, state: 'switch on disabled' })
    expect(picture.hints).toEqual([])

    const listened = start('survey', ...over, '--for', '0.2 s')
    expect(await listened.ended()).toBe(1)
    expect(listened.out[0]).toMatch(/listen-only, nothing was sent or acknowledged/)
    expect(listened.out.at(-1)).toMatch(/starboard\.feather/)

    arms.type('fault silent port.elbow')
    expect(JSON.parse(await arms.line(/"what":"fault"/)).faults).toEqual(['silent port.elbow'])
    const lacking = start('survey', ...over, '--ask', '--for', '0.2 s')
    expect(await lacking.ended()).toBe(1)
    expect(lacking.out.at(-1)).toBe('11 of 12 joints are there; missing: port.elbow')

    arms.type('fault silent port.elbo')
    await arms.line(/no joint "port\.elbo".*did you mean "port\.elbow"/)
    expect(await arms.end('SIGINT')).toBe(0)
  })

  it('is refused on a mock bus and on a port that is taken, and serves nothing then', async () => {
    const mock = start('stand-in', '--rig', RIG)
    expect(await mock.ended()).toBe(2)
    expect(mock.err.join('\n')).toMatch(/port-can is a mock bus.*--bus port-can=slcan:tcp:127\.0\.0\.1:7001/)

    const first = start('stand-in', ...over, '--json')
    await first.line(/"serving"/)
    const second = start('stand-in', ...over)
    expect(await second.ended()).toBe(2)
    expect(second.err.join('\n')).toMatch(/something listens there already/)
    expect(second.out).toEqual([])
  })

  it('is missed by a survey that finds nobody, which says what to do', async () => {
    const alone = start('survey', ...over)
    expect(await alone.ended()).toBe(2)
    expect(alone.err.join('\n')).toMatch(/bus port-can: .*127\.0\.0\.1/)
    const mock = start('survey', '--rig', RIG)
    expect(await mock.ended()).toBe(2)
    expect(mock.err.join('\n')).toMatch(/port-can is a mock bus/)
    const long = start('survey', ...over, '--for', '1000 s')
    expect(await long.ended()).toBe(2)
    expect(long.err.join('\n')).toMatch(/--for: expected from "0\.1 s" to "600 s"/)
  })
})
