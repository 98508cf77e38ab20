/** Policy and priority out of /proc/PID/stat. */
import { spawnSync } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { processorsNow, scheduleLoop, schedulingIn } from '../../../../src/bench/realtime/scheduling.js'

/** Fields 3 to 39 of proc(5), then priority, policy and three more. */
const line = (name: string, priority: number, policy: number): string =>
  `1234 (${name}) S ${Array.from({ length: 36 }, () => '7').join(' ')} ${priority} ${policy} 0 0 0\n`

test.each([
  ['node', 0, 0, 'normal'],
  ['node', 50, 1, 'SCHED_FIFO 50'],
  ['node', 60, 2, 'SCHED_RR 60'],
  ['a) name (of its own', 50, 1, 'SCHED_FIFO 50'],
])('%s, priority %i, policy %i: %s', (name, priority, policy, says) => {
  expect(schedulingIn(line(name, priority, policy))).toBe(says)
})

test('says the same as chrt, of this process', () => {
  const { stdout } = spawnSync('chrt', ['-p', String(process.pid)], { encoding: 'utf8' })
  const policy = /policy: (\S+)/.exec(stdout)![1]
  const ours = schedulingIn(readFileSync(`/proc/${process.pid}/stat`, 'utf8'))
  expect(ours.startsWith('SCHED_FIFO')).toBe(policy === 'SCHED_FIFO')
  expect(ours === 'normal').toBe(policy === 'SCHED_OTHER')
})

describe('the processor that a rig asks for', () => {
  const scheduled = (processor: number | null, allowed: string) => {
    const kept: number[] = []
    const { says } = scheduleLoop({ fifo: false, processor }, null, {
      askForFifo: () => {},
      schedulingNow: () => 'normal',
      keepToProcessor: (p) => kept.push(p),
      processorsNow: () => allowed,
    })
    return { kept, says }
  }

  test('is asked for, and what was granted is said', () => {
    expect(scheduled(null, '0-1')).toMatchObject({ kept: [], says: expect.not.stringMatching(/rocessor/) })
    expect(scheduled(1, '1')).toMatchObject({
      kept: [1],
      says: expect.stringMatching(/The loop keeps to processor 1\./),
    })
    expect(scheduled(7, '0-1').says).toMatch(
      /Processor 7 was asked for the loop and not granted: it may run on 0-1\./,
    )
  })

  test('is what taskset says of every thread afterwards', { skip: process.platform !== 'linux' }, () => {
    const before = processorsNow()
    // In a process of its own: a thread of this one that is kept to one processor would stay there.
    const path = new URL('../../../../dist/bench/realtime/scheduling.js', import.meta.url).pathname
    const program = `import { keepToProcessor, processorsNow } from '${path}'
keepToProcessor(0)
const { spawnSync } = await import('node:child_process')
const given = ['--all-tasks', '--cpu-list', '--pid', String(process.pid)]
const told = spawnSync('taskset', given, { encoding: 'utf8' }).stdout.trim().split('\\n')
console.log(JSON.stringify([processorsNow(), told.length > 4, [...new Set(told.map((l) => l.split(' ').at(-1)))]]))`
    const run = spawnSync(process.execPath, ['--input-type=module', '-e', program], { encoding: 'utf8' })
    expect(JSON.parse(run.stdout)).toEqual(['0', true, ['0']])
    expect(processorsNow()).toBe(before)
  })
})
