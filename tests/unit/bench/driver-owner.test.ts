/** The driver under test as the bench has it where it owns the buses: what it is told, and whose process it is. */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { expect, it } from 'vitest'
import { DriverOwner } from '../../../src/bench/driver-owner.js'
import type { DriverUnderTest } from '../../../src/driver/link/under-test.js'
import { DrystrokeError } from '../../../src/errors.js'

function driver(pid: number | null) {
  const told: unknown[] = []
  const trouble: DrystrokeError | null = null
  const under = {
    ...{ pid, heeds: true, trouble },
    meetAnew: () => told.push('anew'),
    lead: (order: string, command: unknown) => told.push([order, command]),
  }
  return { under, told, owner: new DriverOwner(under as unknown as DriverUnderTest) }
}

it('hands on orders and commands, and what is wrong with it', () => {
  const { under, told, owner } = driver(null)
  owner.tell('follow', { surge: 0.3, yaw: -0.1 })
  owner.meetAnew()
  owner.tell('stop', null)
  expect(told).toEqual([['follow', { surge: 0.3, yaw: -0.1 }], 'anew', ['stop', null]])
  expect(owner.heeds).toBe(true)
  under.heeds = false
  expect(owner.heeds).toBe(false)
  expect(owner.trouble).toBeNull()
  under.trouble = new DrystrokeError('driver-lost', 'the line was cut') as never
  expect(owner.trouble).toMatchObject({ code: 'driver-lost' })
})

it('one that is no process of ours cannot be ended, and is never known to be gone', () => {
  const { owner } = driver(null)
  expect(owner.ours).toBe(false)
  owner.silence()
  expect(owner.gone).toBe(false)
})

it('one of ours is ended for good, heeding nothing or not', async () => {
  const deaf =
    "for (const s of ['SIGTERM', 'SIGINT', 'SIGHUP']) process.on(s, () => {}); console.log('up'); setInterval(() => {}, 1e6)"
  const child = spawn(process.execPath, ['-e', deaf], { detached: true, stdio: ['ignore', 'pipe', 'ignore'] })
  const exit = once(child, 'exit')
  await once(child.stdout, 'data')
  const { owner } = driver(child.pid!)
  expect(owner.ours).toBe(true)
  expect(owner.gone).toBe(false)
  owner.silence()
  expect((await exit)[1]).toBe('SIGKILL')
  expect(owner.gone).toBe(true)
})
