/**
 * A driver behind a WebSocket (RFC 6455): each text message is one message. A connection that is lost is tried anew, so that a new
 * start may find it; the loss is told all the same.
 */
import { WebSocket } from 'ws'
import type { later } from '../../clock.js'
import { LONGEST_MESSAGE, MOST_WAITING, type Way, type WayListener } from './messages.js'

/** ms between two tries to connect anew */
const AGAIN = 500
/** ms that the closing handshake may take */
const CLOSING = 1000

const connect = (address: string): WebSocket =>
  new WebSocket(address, { perMessageDeflate: false, maxPayload: LONGEST_MESSAGE })

/** @throws Error why it cannot be connected */
export async function openWebSocket(
  address: string,
  listener: WayListener,
  wait: typeof later,
): Promise<Way> {
  const socket = connect(address)
  await new Promise<void>((resolve, reject) => {
    socket.once('open', resolve)
    socket.once('error', (error) => reject(new Error(`it cannot be connected (${wordsOf(error)})`)))
  })
  return new WebSocketWay(address, socket, listener, wait)
}

/** Several addresses of one host fail with one error that has no words of its own. */
function wordsOf(error: Error & { readonly code?: string }): string {
  return error.message || error.code || error.name
}

class WebSocketWay implements Way {
  readonly place: string
  readonly pid = null
  readonly #listener: WayListener
  readonly #later: typeof later
  #socket: WebSocket
  #over = false
  #deaf = false
  #tries = 0

  constructor(address: string, socket: WebSocket, listener: WayListener, wait: typeof later) {
    this.place = address
    this.#listener = listener
    this.#later = wait
    this.#socket = socket
    this.#follow(socket)
  }

  get open(): boolean {
    return !this.#over && this.#socket.readyState === WebSocket.OPEN
  }

  send(text: string): void {
    if (!this.open) return
    if (this.#socket.bufferedAmount > MOST_WAITING)
      this.#tell('stalled', 'it does not take what is sent to it')
    else this.#socket.send(text)
  }

  deafen(): void {
    this.#deaf = true
    if (this.open) this.#socket.pause()
  }

  async close(last: readonly string[]): Promise<void> {
    for (const text of last) this.send(text)
    const { open } = this
    this.#over = true
    if (open) {
      const closed = new Promise((resolve) => this.#socket.once('close', resolve))
      this.#socket.resume()
      this.#socket.close(1000)
      const takeBack = this.#later(CLOSING, () => this.#socket.terminate())
      await closed
      takeBack()
    } else this.#socket.terminate()
  }

  abandon(): void {
    this.#over = true
    this.#socket.terminate()
  }

  #follow(socket: WebSocket): void {
    socket.on('message', (data, binary) => {
      if (this.#over || this.#deaf) return
      if (binary) this.#tell('rubbish', 'a message of bytes came; expected text')
      else this.#listener.onMessage(data.toString())
    })
    let why = ''
    socket.on('error', (error) => {
      why = wordsOf(error)
    })
    socket.on('close', (code, reason) => {
      if (this.#over) return
      const more = why || reason.toString()
      this.#tell('lost', `the connection was closed with code ${code}${more && ` (${more})`}`)
      this.#tries = 0
      this.#later(AGAIN, () => this.#again())
    })
  }

  #again(): void {
    if (this.#over) return
    this.#tries++
    const socket = connect(this.place)
    this.#socket = socket
    socket.once('error', () => {
      socket.removeAllListeners()
      socket.on('error', () => {})
      this.#later(AGAIN, () => this.#again())
    })
    socket.once('open', () => {
      socket.removeAllListeners('error')
      this.#deaf = false
      this.#follow(socket)
      this.#listener.onBack(`the driver was connected anew, at try ${this.#tries}`)
    })
  }

  #tell(...[trouble, says]: Parameters<WayListener['onLost']>): void {
    if (!this.#over) this.#listener.onLost(trouble, says)
  }
}
