/** A TCP connection as a line of bytes. */
import { Socket } from 'node:net'
import { later } from '../clock.js'
import { DescriptorLine } from './byte-line.js'
import { noBus } from './no-bus.js'

/** ms */
const CONNECT_WITHIN = 3000

/** The descriptor is no public property of a socket, but has been there in all of its versions. */
type WithHandle = Socket & { readonly _handle?: { readonly fd?: number } | null }

export class TcpLine extends DescriptorLine {
  readonly #socket: Socket

  /** @param socket connected */
  constructor(socket: WithHandle, place: string) {
    super(socket._handle?.fd ?? -1, place)
    this.#socket = socket
    socket.setNoDelay(true)
    // A host that has vanished without a word is noticed in the end, even if nothing is sent.
    socket.setKeepAlive(true, 1000)
    socket.on('data', (bytes) => this.arrive(bytes))
    socket.on('error', ({ code }: NodeJS.ErrnoException) => this.lose(this.lossBy(code ?? 'no reason given')))
    // Half closed is closed: an adapter that hears nothing more has nothing more to say.
    socket.on('end', () => this.lose('the other side closed the connection'))
    socket.on('close', () => this.lose('the connection is closed'))
    if (this.descriptor < 0) this.lose('the connection was closed at once')
  }

  /** Takes a connection over that this process inherited. */
  static inherit(descriptor: number, place: string): TcpLine {
    return new TcpLine(new Socket({ fd: descriptor, readable: true, writable: true }), place)
  }

  protected lossBy(code: string): string {
    if (code === 'ECONNRESET' || code === 'EPIPE') return 'the other side reset the connection'
    return `the connection failed: ${code}`
  }

  protected release(): void {
    this.#socket.destroy()
  }
}

/** @throws DrystrokeError `bus-access` */
export function openTcp(host: string, port: number): Promise<TcpLine> {
  const place = `${host.includes(':') ? `[${host}]` : host}:${port}`
  return new Promise((resolve, reject) => {
    const socket = new Socket()
    const refuse = (found: string, advice: string, cause?: unknown): void => {
      forget()
      socket.destroy()
      reject(noBus(place, found, advice, cause))
    }
    const forget = later(CONNECT_WITHIN, () =>
      refuse(
        `no answer within ${CONNECT_WITHIN / 1000} s`,
        'look at the address, the network and the other machine',
      ),
    )
    const onError = (error: NodeJS.ErrnoException): void => {
      if (error.code === 'ECONNREFUSED') {
        refuse(
          'nothing listens there',
          'start the adapter or the stand-in that serves this address (drystroke stand-in), or give another address',
          error,
        )
      } else if (error.code === 'ENOTFOUND' || error.code === 'EAI_AGAIN') {
        refuse(`the name ${host} is not known`, 'look at the spelling, or give the address in numbers', error)
      } else
        refuse(
          `the connection failed (${error.code ?? error.message})`,
          'look at the address and the network',
          error,
        )
    }
    socket.once('error', onError)
    socket.connect({ host, port, noDelay: true }, () => {
      forget()
      socket.off('error', onError)
      resolve(new TcpLine(socket, place))
    })
  })
}
