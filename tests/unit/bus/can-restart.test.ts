/**
 * What the system's program for interfaces says of restart-ms. Names as iproute2 gives them (ip/iplink_can.c): from memory, not
 * compared with a real interface.
 */
import { expect, it } from 'vitest'
import { canRestart } from '../../../src/bus/can-restart.js'

const shown = (kind: string, data?: object): string =>
  JSON.stringify([{ ifname: 'can0', linkinfo: { info_kind: kind, ...(data && { info_data: data }) } }])

it.each([
  ['off', shown('can', { state: 'ERROR-ACTIVE', restart_ms: 0 }), 0],
  ['on', shown('can', { state: 'ERROR-ACTIVE', restart_ms: 100 }), 100],
  ['not said', shown('can', {}), null],
  ['a kind without a controller', shown('vcan'), null],
  ['a kind without a controller that says a number all the same', shown('vcan', { restart_ms: 0 }), null],
  ['a number as text', shown('can', { restart_ms: '0' }), null],
  ['no interface', '[]', null],
  ['no list', '{}', null],
  ['no JSON', 'Device "can0" does not exist.', null],
  ['no program', null, null],
])('%s', (_, answer, expected) => {
  const asked: string[] = []
  const found = canRestart('can0', (name) => {
    asked.push(name)
    return answer
  })
  expect([found, asked]).toEqual([expected, ['can0']])
})
