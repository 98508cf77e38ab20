/** Questions leave half of the queue to what cannot wait. */
import { expect, test } from 'vitest'
import type { Bus, SendResult } from '../../../src/bus/contract.js'
import { GuardedBus } from '../../../src/link/guarded-bus.js'

const FRAME = { id: 0x60b, extended: false, remote: false, data: new Uint8Array(8) }

function guarded(answer: SendResult): { bus: GuardedBus; sent: () => number } {
  let sent = 0
  const send = (): SendResult => {
    sent++
    return answer
  }
  const inner = {
    send,
    get waiting() {
      return sent
    },
  } as unknown as Bus
  return { bus: new GuardedBus(inner, 8), sent: () => sent }
}

test('what has time is sent while less than half of the queue is under way, what has none always', () => {
  const { bus, sent } = guarded('sent')
  expect([1, 2, 3, 4, 5, 6].map(() => bus.sendInTurn(FRAME))).toEqual([true, true, true, true, false, false])
  expect(sent()).toBe(4)
  expect(bus.send(FRAME)).toBe('sent')
})

test('a question that was refused for good is not asked again at once; one without room is', () => {
  expect(guarded('bus-off').bus.sendInTurn(FRAME)).toBe(true)
  expect(guarded('queue full').bus.sendInTurn(FRAME)).toBe(false)
})
