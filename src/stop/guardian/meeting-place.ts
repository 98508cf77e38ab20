/**
 * The guardian's Unix socket: for each bus of its rig a name of that bus's in a folder of its owner's (places.ts), so that
 * every rig which shares a bus finds it.
 *
 * Names end in a token that is never used again, and are there only while somebody listens or since he was killed: a socket
 * that refuses a connection is refused for ever, and can be removed without a look at who may have come after it.
 */
import { chmodSync, linkSync, lstatSync, unlinkSync } from 'node:fs'
import { connect, type Server, type Socket } from 'node:net'
import { join } from 'node:path'
import { wall } from '../../clock.js'
import { DrystrokeError } from '../../errors.js'
import type { Rig } from '../../files/rig.js'
import { type Folder, foldersIn, namesIn, newToken, ownFolder, type Places, rigNames } from '../places.js'

const SOCKET = /^([0-9a-f]{16})\.([0-9a-f-]+)\.sock$/
/** It has not got its names yet. */
const DRAFT = /^[0-9a-f-]+\.draft$/
/** s after which a draft that refuses connections is one that was left behind. */
const DRAFT_STALE = 60

/** A guardian, by its socket. */
export interface Place {
  /** One of its names. */
  readonly path: string
  /** Of the folder's owner. */
  readonly uid: number
  readonly token: string
  /** Names of the buses of the rig that was asked about for which it listens. */
  readonly buses: ReadonlySet<string>
}

/** A connection; or why there is none: nobody listens, or somebody may and cannot be reached. */
export type Met = Socket | 'nobody' | 'unreachable'

/** Guardians of any bus of a rig, dead ones as well. */
export function placesOf(rig: Pick<Rig, 'buses'>, places: Pick<Places, 'roots'>): Place[] {
  const wanted = rigNames(rig)
  const found = new Map<string, Place & { readonly buses: Set<string> }>()
  for (const { folder, name } of filesIn(foldersIn(places))) {
    const [, bus, token] = SOCKET.exec(name) ?? []
    if (bus === undefined || !wanted.has(bus)) continue
    const key = join(folder.path, token!)
    const place = found.get(key)
    if (place) place.buses.add(bus)
    else
      found.set(key, {
        path: join(folder.path, name),
        uid: folder.uid,
        token: token!,
        buses: new Set([bus]),
      })
  }
  return [...found.values()]
}

export function meet(path: string): Promise<Met> {
  return new Promise((resolve) => {
    const socket = connect(path)
    socket.once('error', ({ code }: NodeJS.ErrnoException) => {
      resolve(code === 'ECONNREFUSED' || code === 'ENOENT' || code === 'ENOTSOCK' ? 'nobody' : 'unreachable')
    })
    socket.once('connect', () => resolve(socket))
  })
}

/**
 * Listens under the names of all buses of a rig. Everybody may connect.
 * @returns takes the names back
 * @throws DrystrokeError `guardian`: a run on one of these buses is under way, or there is no place to listen at
 */
export async function listenFor(
  rig: Pick<Rig, 'buses'>,
  server: Server,
  places: Places,
): Promise<() => void> {
  const folder = ownFolder(places)
  await tidy(folder)
  const token = newToken()
  const draft = join(folder, `${token}.draft`)
  const names = [...rigNames(rig)].map((bus) => join(folder, `${bus}.${token}.sock`))
  const leave = (): void => {
    for (const path of [...names, draft]) remove(path)
  }
  try {
    await listen(server, draft)
    chmodSync(draft, 0o666)
    for (const name of names) linkSync(draft, name)
    remove(draft)
    // Last of all: of two that begin at once at least one sees the other.
    await refuseOthers(rig, token, places)
  } catch (error) {
    leave()
    throw error
  }
  return leave
}

/** Removes what was left behind in a folder of ours by those who were killed. */
export async function tidy(folder: string): Promise<void> {
  for (const name of namesIn(folder)) {
    const path = join(folder, name)
    if (!SOCKET.test(name) && !(DRAFT.test(name) && ageOf(path) > DRAFT_STALE)) continue
    const met = await meet(path)
    if (met === 'nobody') remove(path)
    else if (met !== 'unreachable') met.destroy()
  }
}

/** s since a file was written; NaN: it is gone. */
export function ageOf(path: string): number {
  const found = lstatSync(path, { throwIfNoEntry: false })
  return found ? wall.secondsSince(found.mtime.toISOString()) : Number.NaN
}

/** Gone already is as good. */
export function remove(path: string): void {
  try {
    unlinkSync(path)
  } catch {
    // Not ours to remove, or somebody else has done it.
  }
}

function listen(server: Server, path: string): Promise<void> {
  return new Promise((resolve, reject) => {
    server.once('error', (cause) => {
      const says = `the guardian cannot listen at ${path}: ${cause.message}`
      reject(new DrystrokeError('guardian', says, { path }, cause))
    })
    server.listen(path, resolve)
  })
}

async function refuseOthers(
  rig: Pick<Rig, 'buses'>,
  ownToken: string,
  places: Pick<Places, 'roots' | 'uid'>,
): Promise<void> {
  for (const { token, path, uid } of placesOf(rig, places)) {
    if (token === ownToken) continue
    const met = await meet(path)
    if (met === 'nobody') continue
    if (met !== 'unreachable') met.destroy()
    const whose = uid === places.uid ? '' : ` (of user ${uid})`
    throw new DrystrokeError(
      'guardian',
      `another run on a bus of this rig is under way${whose}; wait for its end, or stop it with drystroke stop`,
      { path },
    )
  }
}

function* filesIn(folders: readonly Folder[]): Generator<{ folder: Folder; name: string }> {
  for (const folder of folders) for (const name of namesIn(folder.path)) yield { folder, name }
}
