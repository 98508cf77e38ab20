/**
 * The adapter's side of an slcan line, so that simulated arms can be served where a real adapter would be.
 *
 * Left out: listen-only apart from refusing to send, acceptance masks, bit rates by timing registers (refused), time stamps
 * (refused), acknowledging each frame (as many adapters do not), and the bus behind the adapter: frames go straight to whoever
 * listens here, paced by nothing.
 */
import { createServer, type Server } from 'node:net'
import type { Clock, Nanos } from '../clock.js'
import type { Frame } from '../wire/frame.js'
import type { SlcanUnit } from '../wire/slcan.js'
import type { AdapterSettings } from './adapter.js'
import type { ByteLine } from './byte-line.js'
import { noBus } from './no-bus.js'
import { SlcanEnd } from './slcan-end.js'
import { TcpLine } from './tcp.js'

/** A bus to those who listen here: `down` until the other side opens the channel, and again when it closes it. */
export class SlcanPeer extends SlcanEnd {
  #mode: 'closed' | 'open' | 'listening' = 'closed'

  constructor(line: ByteLine, settings: AdapterSettings, clock: Clock) {
    super(line, settings, clock, 'down')
  }

  protected see(unit: SlcanUnit, t: Nanos): void {
    switch (unit.what) {
      case 'frame':
        this.#frame(unit.frame, t)
        return
      case 'word':
        this.#word(unit.text)
        return
      case 'done': // a bare carriage return ends what was half written
      case 'refused':
        return
      default:
        this.bell()
        this.trouble(
          'garbled',
          `the other side sent what is no command: "${'text' in unit ? unit.text : unit.what}"`,
        )
    }
  }

  #frame(frame: Frame, t: Nanos): void {
    if (this.#mode === 'open') this.deliver(frame, t)
    else this.bell()
  }

  #word(text: string): void {
    const closed = this.#mode === 'closed'
    if (text === 'C') this.#answer(this.#to('closed'))
    else if (text === 'O') this.#answer(closed && this.#to('open'))
    else if (text === 'L') this.#answer(closed && this.#to('listening'))
    else if (/^S[0-8]$/.test(text)) this.#answer(closed)
    else if (text === 'V') this.command('V0101')
    else if (text === 'N') this.command('N0001')
    else if (text === 'F' && !closed) this.command('F00')
    else this.#answer(text === 'Z0' || /^X[01]$/.test(text))
  }

  #answer(done: boolean): void {
    if (done) this.command('')
    else this.bell()
  }

  #to(mode: 'closed' | 'open' | 'listening'): boolean {
    if (mode === this.#mode) return true
    this.#mode = mode
    if (mode === 'closed') {
      this.takeBack()
      this.become('down', 'the other side closed the channel')
    } else this.become('active', 'the other side opened the channel')
    return true
  }
}

export interface SlcanServer {
  /** Where it listens; the one that was given, or one that was free for 0. */
  readonly port: number
  /** Ends listening, and the connection that there is. */
  close(): Promise<void>
}

export interface ListenSettings extends Partial<AdapterSettings> {
  /** Called with the address of a client that was sent away because another one is there. */
  readonly onTurnedAway?: (client: string) => void
}

/**
 * Serves one client at a time; a second is sent away. When the first is gone, the next one gets a peer of its own.
 * @param port 0: any that is free
 * @throws DrystrokeError `bus-access`
 */
export async function listenSlcan(
  host: string,
  port: number,
  clock: Clock,
  onPeer: (peer: SlcanPeer) => void,
  { onTurnedAway, ...given }: ListenSettings = {},
): Promise<SlcanServer> {
  const settings = {
    name: `slcan:tcp:${host}:${port}`,
    bitrate: 1e6,
    serialRate: Number.POSITIVE_INFINITY,
    queue: 1024,
    ...given,
  }
  let present: SlcanPeer | null = null
  const server = createServer({ noDelay: true, pauseOnConnect: false }, (socket) => {
    const client = `${socket.remoteAddress}:${socket.remotePort}`
    if (present && present.state !== 'gone') {
      socket.on('error', () => {})
      socket.destroy()
      onTurnedAway?.(client)
      return
    }
    present?.close()
    present = new SlcanPeer(new TcpLine(socket, client), settings, clock)
    onPeer(present)
  })
  await listen(server, host, port)
  const address = server.address()
  return {
    port: typeof address === 'object' && address !== null ? address.port : port,
    close: () =>
      new Promise((resolve) => {
        present?.close()
        server.close(() => resolve())
      }),
  }
}

function listen(server: Server, host: string, port: number): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => {
      const place = `${host}:${port}`
      if (error.code === 'EADDRINUSE') {
        reject(noBus(place, 'something listens there already', 'end it, or use another port', error))
      } else if (error.code === 'EACCES') {
        reject(noBus(place, 'not permitted', 'use a port above 1023', error))
      } else reject(noBus(place, `cannot listen there (${error.code})`, 'look at the address', error))
    })
    server.listen(port, host, resolve)
  })
}
