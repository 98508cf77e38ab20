/** The exact bits of frames on a bus as can-utils' canbusload counts them (its mode -e, with stuff bits and intermission). */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { createInterface } from 'node:readline'
import { expect, it } from 'vitest'
import { randomStream } from '../../../src/random.js'
import { frameBits } from '../../../src/wire/bits.js'
import type { Frame } from '../../../src/wire/frame.js'
import { everyKind } from './frames.js'
import { canplayer } from './peers.js'

/** More would overflow canbusload's socket when it is not given the processor. */
const BURST = 250

it('are ours, and so is the load', async () => {
  const random = randomStream(12, 'busload')
  const whole = (n: number): number => Math.floor(random.uniform() * n)
  const frames: Frame[] = everyKind()
  // Bytes of few kinds, so that stuff bits are many.
  const byte = (): number => [0x00, 0xff, 0x0f, 0xf0, 0xe0, whole(256)][whole(6)]!
  while (frames.length < 3 * BURST) {
    const extended = whole(2) === 1
    const data = Uint8Array.from({ length: whole(9) }, byte)
    frames.push({ id: whole(extended ? 2 ** 29 : 2048), extended, remote: false, data })
  }
  const bits = frames.reduce((sum, f) => sum + frameBits(f), 0)

  // Into a pipe it would write whole blocks.
  const canbusload = spawn('stdbuf', ['-oL', 'canbusload', '-e', 'vcan0@1000000'], {
    stdio: ['ignore', 'pipe', 'inherit'],
  })
  const lines = createInterface(canbusload.stdout)[Symbol.asyncIterator]()
  /** One second: frames, bits, bits of data, load in per cent. */
  const second = async (): Promise<number[]> => {
    for (;;) {
      const found = /vcan0@1000000 +(\d+) +(\d+) +(\d+) +(\d+)%/.exec((await lines.next()).value ?? '')
      if (found) return found.slice(1).map(Number)
    }
  }
  // It listens before it counts its first second.
  await second()
  const seconds: number[][] = []
  const counted = (): number => seconds.reduce((sum, s) => sum + s[0]!, 0)
  for (let played = 0; played < frames.length; ) {
    const burst = frames.slice(played, played + BURST)
    canplayer('vcan0', burst)
    played += burst.length
    while (counted() < played) seconds.push(await second())
  }
  canbusload.kill('SIGINT')
  await once(canbusload, 'close')
  expect(seconds.reduce((sum, s) => sum + s[1]!, 0)).toBe(bits)
  for (const [, inSecond, , load] of seconds) expect(load).toBe(Math.floor(inSecond! / 10_000))
})
