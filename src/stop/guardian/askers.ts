/**
 * Those who wait at the guardian's socket to hear what came of the stop that they asked for. Everybody on this machine may
 * come, so that nobody may stay who does not ask, or say more than there is to say.
 */
import { createServer, type Server, type Socket } from 'node:net'
import { later } from '../../clock.js'
import { type Ask, LineReader, lineOf, type ToAsker } from './messages.js'

/** More are turned away. */
const MOST = 16
/** ms, for the question; whoever has asked may wait. */
const ASK_WITHIN = 1000
/** Bytes of a question. */
const LONGEST = 256

export class Askers {
  readonly server: Server
  readonly #waiting = new Set<Socket>()
  readonly #heard: Extract<ToAsker, { what: 'heard' }>
  readonly #onStop: () => void

  /** @param stops names of the drives that are stopped; @param onStop called for each that asks */
  constructor(rig: string, stops: readonly string[], onStop: () => void) {
    this.#heard = { what: 'heard', rig, stops }
    this.#onStop = onStop
    this.server = createServer((socket) => this.#serve(socket))
    this.server.maxConnections = MOST
  }

  get waiting(): boolean {
    return this.#waiting.size > 0
  }

  /** All that wait are told, and nobody waits any more. */
  tell(answer: Extract<ToAsker, { what: 'stopped' }>): void {
    for (const socket of this.#waiting) socket.end(lineOf(answer))
    this.#waiting.clear()
  }

  #serve(socket: Socket): void {
    const reader = new LineReader()
    // Somebody who goes away, or says what means nothing, is no matter.
    socket.on('error', () => socket.destroy())
    socket.on('close', () => this.#waiting.delete(socket))
    later(ASK_WITHIN, () => {
      if (!this.#waiting.has(socket)) socket.destroy()
    })
    let length = 0
    socket.on('data', (bytes) => {
      length += bytes.length
      if (length > LONGEST) {
        socket.destroy()
        return
      }
      try {
        reader.read(bytes, (line) => this.#hear(socket, JSON.parse(line) as Ask))
      } catch {
        socket.destroy()
      }
    })
  }

  #hear(socket: Socket, ask: Ask): void {
    if (ask.what !== 'stop') {
      socket.destroy()
      return
    }
    // The stop first.
    this.#waiting.add(socket)
    this.#onStop()
    socket.write(lineOf(this.#heard))
  }
}
