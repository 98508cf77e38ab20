/** Orders over a Unix socket: who it is, one answer a line, and what lies at the path already. */
import { statSync, writeFileSync } from 'node:fs'
import { connect } from 'node:net'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { afterEach, expect, it } from 'vitest'
import { DrystrokeError } from '../../../src/errors.js'
import { loadRig } from '../../../src/files/load.js'
import { serveOrders, standInName } from '../../../src/stand-in/order-socket.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { DEMO_RIG, temporaryFolder } from '../../setup/runs.js'

const folder = temporaryFolder()
const name = standInName(loadRig(DEMO_RIG, 'rig.yaml', watchSchemas))
const ends: (() => void)[] = []
afterEach(() => {
  for (const end of ends.splice(0)) end()
})

async function client(path: string) {
  const socket = connect(path)
  ends.push(() => socket.destroy())
  const lines = createInterface({ input: socket })[Symbol.asyncIterator]()
  return {
    say: (line: string) => socket.write(`${line}\n`),
    hear: async () => JSON.parse((await lines.next()).value),
  }
}

it('says who it is, then answers each line', async () => {
  const path = join(folder, 'a.sock')
  const heard: string[] = []
  const orders = await serveOrders(path, name, (line) => {
    if (line === 'nonsense') throw new DrystrokeError('usage', 'no order "nonsense"')
    heard.push(line)
  })
  ends.push(() => orders.end())
  // For nobody but this user.
  expect(statSync(path).mode & 0o777).toBe(0o600)
  const one = await client(path)
  expect(await one.hear()).toEqual({
    what: 'stand-in',
    rig: 'reservoir-skiff',
    joints: expect.arrayContaining(['port.elbow', 'starboard.feather']),
    buses: [
      { name: 'port-can', address: 'mock' },
      { name: 'starboard-can', address: 'mock' },
    ],
  })
  one.say('fault silent port.elbow')
  expect(await one.hear()).toEqual({ what: 'done' })
  one.say('nonsense')
  expect(await one.hear()).toEqual({ what: 'refused', says: 'no order "nonsense"' })
  const two = await client(path)
  expect(await two.hear()).toMatchObject({ what: 'stand-in' })
  expect(heard).toEqual(['fault silent port.elbow'])
  // Told unasked, to all.
  orders.tell({ what: 'standstill', times: 2, longest: 7e6 })
  for (const each of [one, two])
    expect(await each.hear()).toEqual({ what: 'standstill', times: 2, longest: 7e6 })
})

it('replaces a socket that was left behind, and leaves everything else alone', async () => {
  const path = join(folder, 'b.sock')
  const orders = await serveOrders(path, name, () => {})
  ends.push(() => orders.end())
  await expect(serveOrders(path, name, () => {})).rejects.toThrow(/b\.sock: another stand-in is there/)

  // As a killed process leaves it: bound, and nobody listens.
  const left = join(folder, 'left.sock')
  const { spawnSync } = await import('node:child_process')
  const dying = `require('net').createServer().listen(${JSON.stringify(left)}, () => process.kill(process.pid, 'SIGKILL'))`
  expect(spawnSync(process.execPath, ['-e', dying]).signal).toBe('SIGKILL')
  expect(statSync(left).isSocket()).toBe(true)
  const inPlace = await serveOrders(left, name, () => {})
  ends.push(() => inPlace.end())
  expect(await (await client(left)).hear()).toMatchObject({ what: 'stand-in' })

  const file = join(folder, 'precious')
  writeFileSync(file, 'kept')
  await expect(serveOrders(file, name, () => {})).rejects.toThrow(/precious: something else is there/)
  expect(statSync(file).size).toBe(4)
})
