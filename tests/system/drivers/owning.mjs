/**
 * A driver that owns the buses of a rig, as a program: `node owning.mjs RIG FAULT BUS BUS`. A bus is HOST:PORT, slcan over TCP, or
 * can:NAME, a CAN interface by way of npm socketcan. Set-up, SYNC, enables and setpoints are its own (tests/setup/owning-driver.mjs); strokes are the reference driver's. FAULT
 * is none, ignores-stop, or ignores-later: no stop once it has been told to follow, nor the end of its standard input.
 */
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { connect } from 'node:net'
import { createInterface } from 'node:readline'
import { ReferenceDriver } from '../../../dist/driver/reference.js'
import { loadRig } from '../../../dist/files/load.js'
import { watchSchemas } from '../../../dist/watch/settings.js'
import { OwningDriver, rigFor } from '../../setup/owning-driver.mjs'

const [file, fault, ...places] = process.argv.slice(2)
const rig = loadRig(readFileSync(file, 'utf8'), file, watchSchemas)
const hex = (n, digits) => n.toString(16).toUpperCase().padStart(digits, '0')

/** Each opens a bus, hands over what comes in, and returns what sends a frame there. */
function slcan(place, hear) {
  const at = place.lastIndexOf(':')
  const socket = connect(Number(place.slice(at + 1)), place.slice(0, at))
  socket.setNoDelay(true)
  socket.write('S8\rO\r')
  let rest = ''
  socket.on('data', (bytes) => {
    const lines = (rest + bytes.toString('latin1')).replaceAll('\u0007', '\r').split('\r')
    rest = lines.pop()
    for (const line of lines) {
      const frame = /^t([0-9A-Fa-f]{3})([0-8])((?:[0-9A-Fa-f]{2})*)/.exec(line)
      if (!frame) continue
      hear(Number.parseInt(frame[1], 16), Buffer.from(frame[3].slice(0, 2 * Number(frame[2])), 'hex'))
    }
  })
  return (id, bytes) => {
    socket.write(`t${hex(id, 3)}${bytes.length}${bytes.map((b) => hex(b, 2)).join('')}\r`)
  }
}

function canInterface(name, hear) {
  const channel = createRequire(import.meta.url)('socketcan').createRawChannel(name)
  channel.addListener('onMessage', ({ id, ext, err, data }) => {
    if (!ext && !err) hear(id, data)
  })
  channel.start()
  return (id, bytes) => {
    channel.send({ id, ext: false, rtr: false, data: Buffer.from(bytes) })
  }
}

const send = places.map((place, bus) => {
  const hear = (id, data) => driver.hear(bus, id, data)
  return place.startsWith('can:') ? canInterface(place.slice('can:'.length), hear) : slcan(place, hear)
})
const driver = new OwningDriver(
  rigFor(rig),
  (bus, id, bytes) => send[bus](id, bytes),
  new ReferenceDriver(rig),
  { ignoresStop: fault === 'ignores-stop' },
)

createInterface({ input: process.stdin })
  .on('line', (line) => {
    const said = JSON.parse(line)
    if (said.hello) process.stdout.write('{"ready":1}\n')
    else if (said.bye) process.exit()
    else if (said.do) {
      if (fault === 'ignores-later' && said.do === 'follow') driver.faults.ignoresStop = true
      driver.tell(said.do, { surge: said.surge ?? 0, yaw: said.yaw ?? 0 })
    }
  })
  .on('close', () => fault === 'ignores-later' || process.exit())

const period = rig.control.period * 1000
const began = performance.now()
let k = 0
const beat = () => {
  driver.tick(performance.now() / 1000)
  k++
  setTimeout(beat, Math.max(0, began + k * period - performance.now()))
}
beat()
