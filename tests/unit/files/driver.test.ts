import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { parse } from 'yaml'
import { loadRig } from '../../../src/files/load.js'
import { resolvedRigText } from '../../../src/files/resolved-text.js'
import { watchSchemas } from './watch-schemas.js'

const small = readFileSync(new URL('small-rig.yaml', import.meta.url), 'utf8')
const driverOf = (section: string) => loadRig(`${small}${section}\n`, 'rig.yaml', watchSchemas).driver

const everyLink = {
  ownsBus: false,
  every: null,
  handshake: 10,
  answer: 0.05,
  rest: null,
  parked: (0.5 / 180) * Math.PI,
}

test('without a section, and with kind reference, there is no link', () => {
  expect(loadRig(small, 'rig.yaml', watchSchemas).driver.link).toBeNull()
  expect(driverOf('driver: { kind: reference, slip: "10 %" }')).toEqual({
    slip: 0.1,
    acceleration: 0.4,
    jerk: 2,
    singularity: 0.02,
    link: null,
  })
})

test('a process, with what the reference driver would keep beside it', () => {
  const driver = driverOf('driver: { kind: process, run: [node, own.mjs, "--fast"], acceleration: "1 m/s2" }')
  expect(driver).toMatchObject({ slip: 0, acceleration: 1, jerk: 2 })
  expect(driver.link).toEqual({ kind: 'process', ...everyLink, run: ['node', 'own.mjs', '--fast'] })
})

test.each([
  ['"127.0.0.1:7010"', { host: '127.0.0.1', port: 7010 }],
  ['"[::1]:7010"', { host: '::1', port: 7010 }],
  ['"skiff.local:65535"', { host: 'skiff.local', port: 65535 }],
])('datagrams to %s', (address, place) => {
  const { link } = driverOf(`driver: { kind: udp, address: ${address}, every: "20 ms", rest: "3 s" }`)
  expect(link).toEqual({ kind: 'udp', ...everyLink, every: 0.02, rest: 3, ...place, ownPort: null })
})

test('a serial port', () => {
  const { link } = driverOf('driver: { kind: serial, device: /dev/ttyS0, rate: "115.2 kbit/s" }')
  expect(link).toEqual({ kind: 'serial', ...everyLink, device: '/dev/ttyS0', rate: 115_200 })
})

test('a WebSocket: templates stay as they stand, and a dollar sign can be had', () => {
  const section = `driver:
  kind: websocket
  address: "ws://127.0.0.1:7011"
  command: { helm: { ahead: $surge, turn: [$yaw, 0.5, null, true, "$$5"] }, at: $time, number: $count }
  after-connecting: [{ of: $joints }, $rig]
  ready: { at: "/a~1b/0", is: standing by }
  setpoints: ""
  counter: /number`
  const { link } = driverOf(section)
  expect(link).toEqual({
    kind: 'websocket',
    ...everyLink,
    address: 'ws://127.0.0.1:7011',
    afterConnecting: [{ of: '$joints' }, '$rig'],
    command: {
      helm: { ahead: '$surge', turn: ['$yaw', 0.5, null, true, '$$5'] },
      at: '$time',
      number: '$count',
    },
    beforeStarting: [],
    beforeClosing: [],
    ready: { at: '/a~1b/0', is: 'standing by', park: null },
    setpoints: '',
    counter: '/number',
  })
  const whole = resolvedRigText(`${small}${section}\n`, watchSchemas)
  expect(parse(whole).driver).toMatchObject({ answer: '50 ms', 'owns-bus': false, 'before-closing': [] })
  expect(loadRig(whole, 'rig.yaml', watchSchemas).driver).toEqual(driverOf(section))
})
