/** Policy and priority out of /proc/PID/stat. */
import { spawnSync } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { schedulingIn } from '../../../../src/bench/realtime/scheduling.js'

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
