/** Those who wait at the guardian's socket to hear what came of the stop that they asked for. */
import { createServer, type Server, type Socket } from 'node:net'
import { type Ask, LineReader, lineOf, type ToAsker } from './messages.js'

/** More are turned away. */
const MOST = 16

export class Askers {
  readonly server: Server
  readonly #waiting = new Set<Socket>()
  readonly #rig: string
  readonly #onStop: () => void

  /** @param onStop called for each that asks */
  constructor(rig: string, onStop: () => void) {
    this.#rig = rig
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
    socket.on('data', (bytes) => {
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
    socket.write(lineOf({ what: 'heard', rig: this.#rig }))
  }
}
