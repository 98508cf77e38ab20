/**
 * Where `drystroke stop` finds the guardian of a rig: a Unix socket whose name comes from the rig's name and its buses'
 * addresses. It lies in a folder that only its owner can enter, so that nobody else can put anything in its place.
 */
import { createHash } from 'node:crypto'
import { chmodSync, lstatSync, mkdirSync, unlinkSync } from 'node:fs'
import { connect, type Server, type Socket } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { DrystrokeError } from '../../errors.js'
import { showBusAddress } from '../../files/bus-address.js'
import type { Rig } from '../../files/rig.js'

/** Bytes of a Unix socket's path (unix(7): 108 with the closing zero). */
const LONGEST = 107

/** @throws DrystrokeError `guardian` when the folder is not safe, or the path too long */
export function meetingPlace({ name, buses }: Pick<Rig, 'name' | 'buses'>): string {
  const uid = process.getuid?.() ?? 0
  const folder = join(process.env.XDG_RUNTIME_DIR || tmpdir(), `drystroke-${uid}`)
  makePrivate(folder, uid)
  const hash = createHash('sha256')
  hash.update(JSON.stringify([name, ...buses.map((b) => [b.name, showBusAddress(b.address)])]))
  const path = join(folder, `${hash.digest('hex').slice(0, 20)}.sock`)
  if (Buffer.byteLength(path) <= LONGEST) return path
  throw new DrystrokeError(
    'guardian',
    `${path}: too long for a Unix socket, ${LONGEST} bytes at most; set XDG_RUNTIME_DIR to a shorter path`,
    { path },
  )
}

/** Ours alone, and no link to anywhere. */
function makePrivate(folder: string, uid: number): void {
  try {
    mkdirSync(folder, { mode: 0o700 })
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code !== 'EEXIST') {
      const why = (cause as Error).message
      throw new DrystrokeError(
        'guardian',
        `${folder} cannot be made: ${why}; set XDG_RUNTIME_DIR to a folder of yours`,
        { folder },
        cause,
      )
    }
  }
  const found = lstatSync(folder)
  const others = found.mode & 0o077
  if (found.isDirectory() && found.uid === uid && others === 0) return
  const what = !found.isDirectory()
    ? 'is no folder'
    : found.uid !== uid
      ? 'belongs to somebody else'
      : 'can be entered by others'
  throw new DrystrokeError(
    'guardian',
    `${folder} ${what}: expected a folder of your own with permissions 700; remove it, or set XDG_RUNTIME_DIR to another place`,
    { folder },
  )
}

/** A connection to whoever listens, or null: nobody does. */
export function meet(path: string): Promise<Socket | null> {
  return new Promise((resolve) => {
    const socket = connect(path)
    socket.once('error', () => resolve(null))
    socket.once('connect', () => resolve(socket))
  })
}

/**
 * Listens; a socket that a guardian left behind when it was killed is replaced.
 * @throws DrystrokeError `guardian`: a run on this rig is under way
 */
export async function listenAt(path: string, server: Server): Promise<void> {
  const found = lstatSync(path, { throwIfNoEntry: false })
  if (found) {
    const other = await meet(path)
    if (other) {
      other.destroy()
      throw new DrystrokeError(
        'guardian',
        'another run on this rig and these buses is under way; wait for its end, or stop it with drystroke stop',
        { path },
      )
    }
    unlinkSync(path)
  }
  await new Promise<void>((resolve, reject) => {
    server.once('error', (cause) => {
      reject(
        new DrystrokeError(
          'guardian',
          `the guardian cannot listen at ${path}: ${cause.message}`,
          { path },
          cause,
        ),
      )
    })
    server.listen(path, resolve)
  })
  chmodSync(path, 0o600)
}
