/** Frames for a bus to carry, and how candump writes them. */
import { randomStream } from '../../../src/random.js'
import { candumpLine } from '../../../src/wire/candump.js'
import type { Frame } from '../../../src/wire/frame.js'

/** All lengths of all kinds, least and greatest identifiers, and 100 at random. */
export function everyKind(): Frame[] {
  const random = randomStream(11, 'every kind')
  const whole = (n: number): number => Math.floor(random.uniform() * n)
  const frames: Frame[] = []
  for (let length = 0; length <= 8; length++) {
    const data = Uint8Array.from({ length }, () => whole(256))
    frames.push({ id: 0x7ff - length, extended: false, remote: false, data })
    frames.push({ id: 0x1fffffff - length, extended: true, remote: false, data })
  }
  for (const extended of [false, true]) {
    frames.push({ id: 0, extended, remote: false, data: Uint8Array.of(0xff) })
    frames.push({ id: 0x55, extended, remote: true, data: new Uint8Array(0) })
  }
  for (let n = 0; n < 100; n++) {
    const extended = whole(2) === 1
    const data = Uint8Array.from({ length: whole(9) }, () => whole(256))
    frames.push({ id: whole(extended ? 2 ** 29 : 2048), extended, remote: false, data })
  }
  return frames
}

/** `123#DEAD` */
export const words = (frames: readonly Frame[]): string[] =>
  frames.map((f) => candumpLine(0, 'x', f).split(' ')[2]!)
