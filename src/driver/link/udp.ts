/** A driver behind datagrams: each is one message. That some are lost is for the time-outs to find. */
import { createSocket, type Socket } from 'node:dgram'
import { isIPv6 } from 'node:net'
import type { UdpDriverSettings } from '../../files/driver.js'
import type { Way, WayListener } from './messages.js'

/** Resolves once the socket has its port. @throws of the system, when it is taken or the host has no address */
export async function openUdp(settings: UdpDriverSettings, listener: WayListener): Promise<Way> {
  const { host, port, ownPort } = settings
  const socket = createSocket(isIPv6(host) ? 'udp6' : 'udp4')
  try {
    await new Promise<void>((resolve, reject) => {
      socket.once('error', reject)
      socket.bind(ownPort ?? 0, () => {
        socket.connect(port, host, (error?: Error) => (error ? reject(error) : resolve()))
      })
    })
  } catch (error) {
    socket.close()
    throw error
  }
  socket.removeAllListeners('error')
  return new UdpWay(socket, `udp ${host}:${port}`, listener)
}

class UdpWay implements Way {
  readonly place: string
  readonly pid = null
  readonly #socket: Socket
  readonly #listener: WayListener
  open = true
  #deaf = false

  constructor(socket: Socket, place: string, listener: WayListener) {
    this.#socket = socket
    this.place = place
    this.#listener = listener
    socket.on('message', (bytes) => {
      if (this.open && !this.#deaf) listener.onMessage(bytes.toString('utf8'))
    })
    // A datagram of ours was refused: nobody listens there, now.
    socket.on('error', () => {})
  }

  send(text: string): void {
    if (!this.open) return
    this.#socket.send(text, (error) => {
      const code = (error as NodeJS.ErrnoException | null)?.code
      if (code === 'EMSGSIZE') this.#lose(`a command of ${text.length} bytes is too long for a datagram`)
    })
  }

  deafen(): void {
    this.#deaf = true
  }

  async close(last: readonly string[]): Promise<void> {
    if (!this.open) return
    for (const text of last) await new Promise<void>((resolve) => this.#socket.send(text, () => resolve()))
    this.abandon()
  }

  abandon(): void {
    if (this.open) this.#socket.close()
    this.open = false
  }

  #lose(says: string): void {
    if (!this.open) return
    this.abandon()
    this.#listener.onLost('lost', says)
  }
}
