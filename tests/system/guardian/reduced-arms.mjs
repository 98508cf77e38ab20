/**
 * A process with the simulated arms of a rig, behind slcan over TCP, and an eye beside them: it
 * says on standard output, a JSON value a line, when a joint begins to move and when it has come to rest by its true position,
 * what each drive's state is, and what came in garbled. The end of standard input ends it.
 *
 * node reduced-arms.mjs '{"rigText": ..., "base": [s, ns], "ports": 2}'
 */
import { createServer } from 'node:net'
import { SlcanPeer } from '../../../dist/bus/slcan-server.js'
import { TcpLine } from '../../../dist/bus/tcp.js'
import { RealTime } from '../../../dist/clock.js'
import { loadRig } from '../../../dist/files/load.js'
import { StandIn } from '../../../dist/stand-in/serve.js'
import { raise } from '../../../dist/stop/guardian/priority.js'
import { watchSchemas } from '../../../dist/watch/settings.js'
import { driveState } from '../../../dist/wire/cia402/state.js'
import { Decoder } from '../../../dist/wire/decoder.js'

const { rigText, base } = JSON.parse(process.argv[2])
const rig = loadRig(rigText, 'rig.yaml', watchSchemas)
// What a simulated arm does in time a real one does too, however busy this machine is.
raise(40)
const clock = new RealTime(base)
const say = (value) => process.stdout.write(`${JSON.stringify(value)}\n`)

/** A bus to the arms that stays, while those who connect to it come and go. */
function served(settings, i) {
  const listeners = []
  let peer = null
  const server = createServer({ noDelay: true }, (connected) => {
    const present = new SlcanPeer(
      new TcpLine(connected, settings.name),
      { ...settings, bitrate: 1e6, serialRate: Number.POSITIVE_INFINITY, queue: 1024 },
      clock,
    )
    peer = present
    present.onFrame((frame, t) => {
      for (const listener of listeners) listener(frame, t)
    })
    present.onReport(({ trouble, says }, t) => say({ bus: i, trouble, says, t }))
  })
  const bus = {
    name: settings.name,
    state: 'active',
    get waiting() {
      return peer?.waiting ?? 0
    },
    // Nobody is connected: what the arms say is lost, as on a bus without a listener.
    send: (frame) => (peer?.state === 'active' ? peer.send(frame) : 'sent'),
    withdraw: () => 0,
    onFrame: (listener) => listeners.push(listener),
    only: () => {},
    onReport: () => {},
    close: () => {},
  }
  const listening = new Promise((resolve) => {
    server.listen(0, '127.0.0.1', () => resolve(server.address().port))
  })
  return { bus, listening }
}

const lines = rig.buses.map(served)
const ports = await Promise.all(lines.map((l) => l.listening))

const standIn = new StandIn({
  rig,
  clock,
  buses: lines.map((l, i) => watched(l.bus, i)),
  seed: 1,
  onMotion: ({ joint, moving, since }) => say({ joint, moving, since }),
})

/** What the drives say of their state, by their feedback or (where SYNC has ceased) in answer to a question for 6041h. */
function watched(bus, i) {
  const known = new Map()
  const see = (joint, state, t) => {
    if (known.get(joint) === state) return
    known.set(joint, state)
    say({ joint, state, t })
  }
  const decoder = new Decoder(rig, (o) => {
    if (o.kind === 'state') see(o.joint, o.state, o.t)
  })
  const answers = new Map(
    rig.joints.filter((j) => j.wire.bus === i).map((j) => [0x580 + j.wire.node, j.index]),
  )
  const statusword = ({ id, data }) => {
    const joint = answers.get(id)
    if (joint === undefined || data[0] !== 0x4b || data[1] !== 0x41 || data[2] !== 0x60) return
    see(joint, driveState(data[4] | (data[5] << 8)), clock.now())
  }
  return Object.defineProperties(
    {
      send(frame) {
        decoder.see(i, frame, clock.now(), false)
        statusword(frame)
        return bus.send(frame)
      },
    },
    Object.fromEntries(
      ['name', 'state', 'waiting', 'withdraw', 'onFrame', 'only', 'onReport', 'close'].map((key) => [
        key,
        // Bound: the methods of an adapter want to be called on it.
        { get: () => (typeof bus[key] === 'function' ? bus[key].bind(bus) : bus[key]) },
      ]),
    ),
  )
}

process.stdin.resume().on('end', () => {
  standIn.end()
  process.exit(0)
})
say({ ports })
