/** Proof that arms are a stand-in: a real socket for orders, and buses that are played by the test. */
import { join } from 'node:path'
import { afterEach, describe, expect, it } from 'vitest'
import { StandInLine } from '../../../../src/bench/realtime/stand-in.js'
import type { Adapter } from '../../../../src/bus/adapter.js'
import type { FrameListener } from '../../../../src/bus/contract.js'
import { loadRig } from '../../../../src/files/load.js'
import { type StandInName, serveOrders, standInName } from '../../../../src/stand-in/order-socket.js'
import { parseOrder } from '../../../../src/stand-in/orders.js'
import { shown } from '../../../../src/stand-in/proof-frame.js'
import { watchSchemas } from '../../../../src/watch/settings.js'
import { type Frame, frame } from '../../../../src/wire/frame.js'
import { until } from '../../../setup/lines.js'
import { change, DEMO_RIG, temporaryFolder } from '../../../setup/runs.js'

const folder = temporaryFolder()
const served = change(
  change(DEMO_RIG, 'address: mock', 'address: "slcan:tcp:127.0.0.1:7001"'),
  'address: mock',
  'address: "slcan:/dev/ttyACM0"',
)
const rig = loadRig(served, 'rig.yaml', watchSchemas)
const ends: (() => void)[] = []
afterEach(() => {
  for (const end of ends.splice(0)) end()
})

let sockets = 0

/** @param onQuiet what the buses carry when the stand-in is asked to be quiet; @param onAsked when a drive is asked by SDO */
async function scene(given: {
  readonly name?: Partial<StandInName>
  readonly onQuiet: (say: (bus: number, frame: Frame) => void, number: number) => void
  readonly onAsked?: (say: (bus: number, frame: Frame) => void, bus: number, asked: Frame) => void
  readonly refuse?: boolean
}) {
  const path = join(folder, `${sockets++}.sock`)
  const listeners: FrameListener[][] = [[], []]
  const sent: Frame[] = []
  const say = (bus: number, f: Frame): void => {
    for (const hear of listeners[bus]!) hear(f, 0)
  }
  const buses = listeners.map((own, b) => ({
    onFrame: (hear: FrameListener) => own.push(hear),
    send: (f: Frame) => {
      sent.push(f)
      given.onAsked?.(say, b, f)
      return 'sent'
    },
  })) as unknown as Adapter[]
  const orders: string[] = []
  const socket = await serveOrders(path, { ...standInName(rig), ...given.name }, (line) => {
    const order = parseOrder(line, rig)
    orders.push(line)
    if (order.kind === 'quiet') given.onQuiet(say, order.number)
    if (order.kind === 'fault' && given.refuse) parseOrder('fault', rig)
  })
  const end = (): void => socket.end()
  ends.push(end)
  const lost: string[] = []
  const standstills: number[][] = []
  const met = StandInLine.meet({
    path,
    rig,
    buses,
    clock: { base: [5, 6] },
    onLost: (says) => lost.push(says),
    onStandstill: (...told) => standstills.push(told),
  })
  return { met, orders, sent, lost, end, say, socket, standstills }
}

const honest = (say: (bus: number, frame: Frame) => void, number: number): void => {
  // Late feedback comes before it.
  say(0, frame(0x18b, new Uint8Array(8)))
  say(0, shown(number))
  say(1, shown(number))
}
const jam = { fault: 'jammed', place: 2, other: -1, amount: 0 } as const

describe('arms that are said to be a stand-in', () => {
  it('are believed once they were seen on each bus and nobody else spoke; then they begin anew, and are told faults', async () => {
    const { met, orders, sent, lost, say } = await scene({ onQuiet: honest })
    const line = await met
    expect(orders).toEqual([expect.stringMatching(/^quiet \d+$/), 'anew'])
    // Every drive was asked who it is (1000h), and nothing else was sent.
    expect(sent.map((f) => f.id).sort()).toEqual(rig.joints.map((j) => 0x600 + j.wire.node).sort())
    expect(sent.every((f) => f.data[0] === 0x40 && f.data[2] === 0x10 && f.data[1] === 0)).toBe(true)
    say(0, frame(0x18b, new Uint8Array(8)))
    line.fault(jam, true)
    line.fault({ ...jam, fault: 'late', amount: 0.015 }, true)
    line.fault(jam, false)
    await until(() => orders.length === 5)
    expect(orders.slice(2)).toEqual([
      'fault jammed port.elbow',
      'fault late port.elbow 0.015 s',
      'end jammed port.elbow',
    ])
    line.end()
    expect(lost).toEqual([])
  })

  it('say themselves that they stood still in time, also before a fault is answered', async () => {
    const { met, orders, lost, socket, standstills } = await scene({ onQuiet: honest })
    const line = await met
    socket.tell({ what: 'standstill', times: 2, longest: 7e6 })
    line.fault(jam, true)
    await until(() => orders.length === 3 && standstills.length === 1)
    expect(standstills).toEqual([[2, 7e6]])
    line.end()
    expect(lost).toEqual([])
  })

  it('are refused when a drive answers while the stand-in is quiet: other arms are there', async () => {
    const { met, orders } = await scene({
      onQuiet: honest,
      onAsked: (say, bus, { id }) => id === 0x60d && bus === 0 && say(bus, frame(0x58d, new Uint8Array(8))),
    })
    await expect(met).rejects.toThrow(
      /somebody else speaks while it is quiet, on port-can \(identifier 58dh\); nothing has moved/,
    )
    expect(orders).not.toContain('anew')
  })

  it('are refused when they are not seen on a bus: other arms may be there', async () => {
    const { met, sent } = await scene({ onQuiet: (say, number) => say(0, shown(number)) })
    await expect(met).rejects.toThrow(/what it sends does not arrive on starboard-can/)
    expect(sent).toEqual([])
  })

  it.each([
    [{ rig: 'another' }, /it serves the rig another, not reservoir-skiff/],
    [{ joints: ['port.swing'] }, /its arms have other joints/],
    [{ buses: [] }, /it serves no bus port-can/],
    [
      {
        buses: [
          { name: 'port-can', address: 'slcan:tcp:127.0.0.1:9' },
          { name: 'starboard-can', address: 'slcan:/dev/x' },
        ],
      },
      /it serves port-can on slcan:tcp:127\.0\.0\.1:9, not on slcan:tcp:127\.0\.0\.1:7001/,
    ],
  ])('are refused when they are others: %j', async (name, message) => {
    const { met, sent } = await scene({ name, onQuiet: honest })
    await expect(met).rejects.toThrow(message)
    expect(sent).toEqual([])
  })

  it('are refused when nobody answers', async () => {
    const path = join(folder, 'none.sock')
    const met = StandInLine.meet({
      path,
      rig,
      buses: [],
      clock: { base: [0, 0] },
      onLost: () => {},
      onStandstill: () => {},
    })
    await expect(met).rejects.toThrow(
      /none\.sock: nobody answers there \(ENOENT\).*drystroke stand-in --orders/,
    )
  })

  it('that go are missed when a fault is due, and those that do not obey at once', async () => {
    const gone = await scene({ onQuiet: honest })
    const line = await gone.met
    gone.end()
    // The end of the line arrives; alone it is no harm.
    for (let turn = 0; turn < 50; turn++) await new Promise((resolve) => setImmediate(resolve))
    expect(gone.lost).toEqual([])
    line.fault(jam, true)
    await until(() => gone.lost.length > 0)
    line.fault(jam, false)
    expect(gone.lost).toEqual(['the stand-in was lost: its line for orders was closed'])

    const wilful = await scene({ onQuiet: honest, refuse: true })
    ;(await wilful.met).fault(jam, true)
    await until(() => wilful.lost.length > 0)
    expect(wilful.lost[0]).toMatch(/it did not do what it was told: no fault ""/)
  })
})
