/**
 * The far end of a measurement of stop reaction, in a process of its own: sends the feedback frame that breaks a limit, and
 * tells when it did and when the quick stop came in. Times in ns of CLOCK_MONOTONIC.
 *
 *   node reaction-peer.mjs tcp       serves one slcan client, prints its port
 *   node reaction-peer.mjs DEVICE    the adapter's side of the line on a pty
 *   node reaction-peer.mjs can:vcan0
 */
import { openBus, openLine } from '../../dist/bus/open.js'
import { listenSlcan, SlcanPeer } from '../../dist/bus/slcan-server.js'
import { RealTime } from '../../dist/clock.js'
import { frame } from '../../dist/wire/frame.js'

const clock = new RealTime([0, 0])
const CONTROLWORD = 0x181
const QUICK_STOP = 0x02
let bus = null
let sentAt = 0
const hear = (f) => {
  if (sentAt === 0 || f.id !== CONTROLWORD || f.data[0] !== QUICK_STOP) return
  process.send({ sentAt, heardAt: clock.now() })
  sentAt = 0
}
const use = (b) => {
  bus = b
  b.onFrame(hear)
}
process.on('message', ({ id, data }) => {
  const f = frame(id, Uint8Array.from(data))
  sentAt = clock.now()
  const result = bus.send(f)
  if (result !== 'sent') throw new Error(`the frame was not sent: ${result}`)
})
process.on('disconnect', () => process.exit(0))

const place = process.argv[2]
const settings = { name: 'far', bitrate: 1e6, serialRate: Number.POSITIVE_INFINITY, queue: 64 }
if (place === 'tcp') {
  const server = await listenSlcan('127.0.0.1', 0, clock, use, settings)
  process.send({ port: server.port })
} else if (place.startsWith('can:')) {
  use(
    await openBus(
      {
        ...settings,
        index: 0,
        controlword: null,
        owner: 'harness',
        address: { kind: 'socketcan', interface: place.slice(4) },
      },
      clock,
    ),
  )
  process.send({ port: 0 })
} else {
  const address = { kind: 'slcan', device: place }
  use(new SlcanPeer(await openLine({ address, serialRate: 3e6 }), settings, clock))
  process.send({ port: 0 })
}
