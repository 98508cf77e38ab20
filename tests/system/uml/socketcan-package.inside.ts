/** The npm package under the SocketCAN adapter: it is installed, and talks to can-utils on a kernel's bus. */
import { spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { createRequire } from 'node:module'
import { createInterface } from 'node:readline'
import { expect, it } from 'vitest'

interface Channel {
  addListener(event: 'onMessage', callback: (message: { id: number; data: Buffer }) => void): void
  start(): void
  stop(): void
  send(message: { id: number; ext: boolean; rtr: boolean; data: Buffer }): number
}

function channel(): Channel {
  const { createRawChannelWithOptions } = createRequire(import.meta.url)('socketcan') as {
    createRawChannelWithOptions(name: string, options: { non_block_send: boolean }): Channel
  }
  return createRawChannelWithOptions('vcan0', { non_block_send: true })
}

it('sends what candump sees', async () => {
  const near = channel()
  near.start()
  // candump says nothing when it is ready, so frames go out until it shows one.
  const candump = spawn('candump', ['-L', '-n', '1', 'vcan0'], { stdio: ['ignore', 'pipe', 'inherit'] })
  const again = setInterval(
    () => near.send({ id: 0x123, ext: false, rtr: false, data: Buffer.of(0xde, 0xad) }),
    20,
  )
  const [line] = (await once(createInterface(candump.stdout), 'line')) as [string]
  clearInterval(again)
  near.stop()
  expect(line).toMatch(/^\(\d+\.\d{6}\) vcan0 123#DEAD$/)
})

it('receives what cansend sends', async () => {
  const near = channel()
  const received = new Promise<{ id: number; data: Buffer }>((resolve) =>
    near.addListener('onMessage', resolve),
  )
  near.start()
  expect(spawnSync('cansend', ['vcan0', '0000007F#0102']).status).toBe(0)
  const { id, data } = await received
  near.stop()
  expect({ id, data: [...data] }).toEqual({ id: 0x7f, data: [1, 2] })
})
