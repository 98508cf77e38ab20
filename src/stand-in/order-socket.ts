/**
 * A Unix socket on which a stand-in takes the orders of `orders.ts` from another program, one a line; it says first who it is,
 * then answers each. Lines of answers are JSON.
 */
import { chmodSync, lstatSync, unlinkSync } from 'node:fs'
import { connect, createServer, type Server, type Socket } from 'node:net'
import { createInterface } from 'node:readline'
import { DrystrokeError } from '../errors.js'
import { showBusAddress } from '../files/bus-address.js'
import type { Rig } from '../files/rig.js'

/** Who serves. */
export interface StandInName {
  readonly what: 'stand-in'
  /** Name of the rig. */
  readonly rig: string
  readonly joints: readonly string[]
  /** Each as it is written in a rig file. */
  readonly buses: readonly { readonly name: string; readonly address: string }[]
}

export type StandInAnswer =
  | StandInName
  | { readonly what: 'done' }
  | { readonly what: 'refused'; readonly says: string }
  | Standstill

/** Said without being asked. `longest` in ns. */
export interface Standstill {
  readonly what: 'standstill'
  readonly times: number
  readonly longest: number
}

export interface OrderSocket {
  /** To all who listen, which nobody waits for. */
  tell(standstill: Standstill): void
  end(): void
}

export function standInName({ name, joints, buses }: Pick<Rig, 'name' | 'joints' | 'buses'>): StandInName {
  return {
    what: 'stand-in',
    rig: name,
    joints: joints.map((j) => j.name),
    buses: buses.map((b) => ({ name: b.name, address: showBusAddress(b.address) })),
  }
}

/**
 * Listens for those who are this user. A socket that was left behind is replaced.
 * @param obey does what a line says; what it throws as a DrystrokeError is the answer
 * @throws DrystrokeError `file-access`: the path is taken by another stand-in or by something else, or cannot be made
 */
export async function serveOrders(
  path: string,
  name: StandInName,
  obey: (line: string) => void,
): Promise<OrderSocket> {
  await makeRoom(path)
  const clients = new Set<Socket>()
  const server = createServer((socket) => {
    clients.add(socket)
    socket.on('close', () => clients.delete(socket))
    const say = (answer: StandInAnswer): void => void socket.write(`${JSON.stringify(answer)}\n`)
    say(name)
    linesOf(socket, (line) => {
      try {
        obey(line)
        say({ what: 'done' })
      } catch (error) {
        if (!(error instanceof DrystrokeError)) throw error
        say({ what: 'refused', says: error.message })
      }
    })
  })
  await listen(server, path)
  return {
    tell: (standstill) => {
      for (const socket of clients) socket.write(`${JSON.stringify(standstill)}\n`)
    },
    end: () => {
      server.close()
      for (const socket of clients) socket.destroy()
    },
  }
}

/** What comes in, line by line, until the socket is closed, however that is. */
export function linesOf(socket: Socket, hear: (line: string) => void): void {
  socket.on('error', () => socket.destroy())
  // Errors of the socket come here as well.
  createInterface({ input: socket })
    .on('line', hear)
    .on('error', () => {})
}

async function makeRoom(path: string): Promise<void> {
  const found = lstatSync(path, { throwIfNoEntry: false })
  if (!found) return
  if (!found.isSocket()) throw notServed(path, 'something else is there', 'remove it, or name another place')
  if (await answers(path)) throw notServed(path, 'another stand-in is there', 'end it, or name another place')
  unlinkSync(path)
}

function answers(path: string): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(path)
    socket.once('error', () => resolve(false))
    socket.once('connect', () => {
      socket.destroy()
      resolve(true)
    })
  })
}

function listen(server: Server, path: string): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once('error', (cause) => {
      reject(notServed(path, cause.message, 'name a place in a folder of yours, with a short path', cause))
    })
    // Nobody else may open it, from its first moment on: it is made within this call.
    const mask = process.umask(0o177)
    try {
      server.listen(path, () => {
        chmodSync(path, 0o600)
        resolve()
      })
    } finally {
      process.umask(mask)
    }
  })
}

function notServed(path: string, says: string, advice: string, cause?: unknown): DrystrokeError {
  return new DrystrokeError('file-access', `--orders ${path}: ${says}; ${advice}`, { file: path }, cause)
}
