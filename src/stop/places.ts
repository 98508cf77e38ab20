/**
 * Where guardians and those who want a stop find each other: folders with a fixed beginning in fixed places of the machine.
 * Neither the environment nor the user nor the name of a rig has a part in it, because a run under sudo, from a service or
 * from another rig file for the same buses must be found as well. Names in these folders come from the buses' addresses.
 *
 * Who may do what:
 * - Everybody on this machine can read the folders and ask: a stop that nobody needed harms less than one that was not heard.
 * - Only a folder's owner can put something into it or take it away: others are kept out by its permissions and by the sticky
 *   bit of the place where it lies. What can be written by others is passed over.
 * - Whose folder it is says who listens there. Our own, root's and, under sudo, those of the user who called it are believed;
 *   anybody else's guardian is asked as well, but may be false, and nothing that it says ends the stop (stop-arms.ts).
 * - A folder that somebody made under our name is no use to him: ours gets another name with the same beginning.
 */
import { createHash } from 'node:crypto'
import { chmodSync, lstatSync, mkdirSync, mkdtempSync, readdirSync, realpathSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { RealTime } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import { type BusAddress, showBusAddress } from '../files/bus-address.js'
import type { Rig } from '../files/rig.js'

/** Folders are made in the first that is safe, and looked for in all: a system that gives each user a /tmp of his own has the other. */
const ROOTS = ['/tmp', '/dev/shm']
const BEGINNING = 'drystroke-stop-'
const OTHERS_WRITE = 0o022
const STICKY = 0o1000

export interface Places {
  readonly roots: readonly string[]
  /** Who we are. */
  readonly uid: number
  /** Whose guardians are believed. */
  readonly trusted: readonly number[]
}

export interface Folder {
  readonly path: string
  /** Of its owner. */
  readonly uid: number
}

export function placesHere(): Places {
  const uid = process.getuid?.() ?? 0
  const caller = Number(process.env.SUDO_UID)
  // Only root is told by sudo alone who called it.
  const trusted = uid === 0 && Number.isInteger(caller) ? [0, caller] : [0, uid]
  return { roots: ROOTS, uid, trusted }
}

/** All that are safe, whosever they are. */
export function foldersIn({ roots }: Pick<Places, 'roots'>): Folder[] {
  return roots.flatMap((root) =>
    namesIn(root)
      .filter((name) => name.startsWith(BEGINNING))
      .flatMap((name) => safeFolder(join(root, name)) ?? []),
  )
}

/** Our own, made when there is none. @throws DrystrokeError `guardian`: there is no place for one */
export function ownFolder({ roots, uid }: Places): string {
  const whys: string[] = []
  for (const root of roots) {
    try {
      const own = foldersIn({ roots: [root] }).find((folder) => folder.uid === uid)
      if (!isSafePlace(root, uid)) whys.push(`${root} can be tampered with by others`)
      else return own?.path ?? makeFolder(root, uid)
    } catch (error) {
      whys.push((error as Error).message)
    }
  }
  throw new DrystrokeError(
    'guardian',
    `No folder can be made in which guardian and drystroke stop would meet: ${whys.join('; ')}; expected one of ${roots.join(', ')} to be writable, with permissions 1777`,
    { roots: roots.join(' ') },
  )
}

/** Part of a file's name that no other process has, or will have. */
export function newToken(): string {
  return [...new RealTime().base, process.pid].map((n) => n.toString(16)).join('-')
}

/** Empty when it cannot be read, or is not there any more. */
export function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder)
  } catch {
    return []
  }
}

/**
 * Short names of a bus, the same on the whole machine; one is enough to be found by. A device has one for each way to call it:
 * a name that follows the adapter, and what that leads to now.
 */
export function busNames(address: BusAddress): string[] {
  return [...new Set(spellings(address))].map((s) =>
    createHash('sha256').update(s).digest('hex').slice(0, 16),
  )
}

/** Of all buses of a rig that other processes can be on. */
export function rigNames({ buses }: Pick<Rig, 'buses'>): Set<string> {
  return new Set(buses.flatMap(({ address }) => busNames(address)))
}

/** What tells a drive from all others on this machine, for each joint in each of the ways to name its bus. */
export function driveNames({ buses, joints }: Pick<Rig, 'buses' | 'joints'>): string[][] {
  return joints.map(({ wire }) => busNames(buses[wire.bus]!.address).map((bus) => `${bus} ${wire.node}`))
}

function spellings(address: BusAddress): string[] {
  if (address.kind === 'mock') return []
  const written = showBusAddress(address)
  if (address.kind === 'socketcan') return [written]
  if ('device' in address) {
    try {
      return [written, `slcan:${realpathSync(address.device)}`]
    } catch {
      return [written]
    }
  }
  const host = address.host.toLowerCase()
  const here = host === 'localhost' || host === '127.0.0.1' || host === '::1'
  return [showBusAddress({ ...address, host: here ? 'localhost' : host })]
}

function makeFolder(root: string, uid: number): string {
  let path = join(root, `${BEGINNING}${uid}`)
  try {
    mkdirSync(path)
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error
    // Whatever lies there is not ours, or not ours alone; or another process of ours was faster.
    const found = safeFolder(path)
    if (found?.uid === uid) return path
    path = mkdtempSync(`${path}-`)
  }
  // Whatever the umask was.
  chmodSync(path, 0o755)
  return path
}

/** Null: it is none, a link, or can be written by others. */
function safeFolder(path: string): Folder | null {
  const found = lstatSync(path, { throwIfNoEntry: false })
  if (!found?.isDirectory() || (found.mode & OTHERS_WRITE) !== 0) return null
  return { path, uid: found.uid }
}

/** Nobody but root and us can take our folder away and put another in its place. */
function isSafePlace(root: string, uid: number): boolean {
  const { mode, uid: owner } = statSync(root)
  return (owner === 0 || owner === uid) && ((mode & OTHERS_WRITE) === 0 || (mode & STICKY) !== 0)
}
