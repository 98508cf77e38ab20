/** Where the guardian of a rig is met: at each bus of its rig, as long as it listens. */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, readdirSync, statSync, utimesSync, writeFileSync } from 'node:fs'
import { createServer, type Server, type Socket } from 'node:net'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { parseBusAddress } from '../../../../src/files/bus-address.js'
import type { Rig } from '../../../../src/files/rig.js'
import { listenFor, meet, placesOf, tidy } from '../../../../src/stop/guardian/meeting-place.js'
import { busNames, ownFolder, type Places } from '../../../../src/stop/places.js'
import { rigOnBuses as rig } from '../../../setup/buses.js'
import { temporaryFolder } from '../../../setup/runs.js'

const uid = process.getuid!()
const folder = temporaryFolder()
let count = 0
let places: Places
const servers: Server[] = []
beforeEach(() => {
  const root = join(folder, `${count++}`)
  mkdirSync(root)
  places = { roots: [root], uid, trusted: [0, uid] }
})
afterEach(async () => {
  for (const server of servers.splice(0)) await new Promise((resolve) => server.close(resolve))
})

const BOTH = rig('socketcan:can0', 'socketcan:can1')

function listening(on: Pick<Rig, 'buses'>): Promise<() => void> {
  const server = createServer((socket) => {
    socket.on('error', () => {})
    socket.end('here')
  })
  servers.push(server)
  return listenFor(on, server, places)
}

async function saidAt(path: string): Promise<string> {
  const socket = (await meet(path)) as Socket
  const said = await new Promise((resolve) => socket.once('data', (bytes) => resolve(String(bytes))))
  socket.destroy()
  return said as string
}

/** What kill -9 leaves: a socket without a listener. */
function leaveBehind(name: string): string {
  const path = join(ownFolder(places), name)
  const leave = `require('net').createServer().listen(${JSON.stringify(path)}, () => process.kill(process.pid, 'SIGKILL'))`
  spawnSync(process.execPath, ['-e', leave])
  expect(statSync(path).isSocket()).toBe(true)
  return path
}

const socketOf = (bus: string, token = '0123456789ab'): string =>
  `${busNames(parseBusAddress(bus)!)[0]}.${token}.sock`

describe('a guardian', () => {
  it('is met once by every rig that shares a bus with it, and may be asked by everybody', async () => {
    await listening(BOTH)
    for (const other of [BOTH, rig('socketcan:can1'), rig('slcan:/dev/ttyS9', 'socketcan:can0')]) {
      const [place, ...more] = placesOf(other, places)
      expect(more).toEqual([])
      expect(place!.uid).toBe(uid)
      expect(statSync(place!.path).mode & 0o777).toBe(0o666)
      expect(await saidAt(place!.path)).toBe('here')
    }
    expect(placesOf(BOTH, places)[0]!.buses.size).toBe(2)
    expect(placesOf(rig('socketcan:can2'), places)).toEqual([])
  })

  it('leaves nothing behind', async () => {
    const leave = await listening(BOTH)
    leave()
    expect(readdirSync(ownFolder(places))).toEqual([])
  })

  it('is refused beside another one on one of its buses, and the other stays', async () => {
    await listening(rig('socketcan:can1'))
    await expect(listening(BOTH)).rejects.toThrow(/another run on a bus of this rig is under way/)
    expect(readdirSync(ownFolder(places))).toHaveLength(1)
    expect(await saidAt(placesOf(BOTH, places)[0]!.path)).toBe('here')
  })

  it.each([
    ['a socket that was left behind', () => leaveBehind(socketOf('socketcan:can0'))],
    [
      'a file under such a name',
      () => {
        const path = join(ownFolder(places), socketOf('socketcan:can0'))
        writeFileSync(path, '')
        return path
      },
    ],
  ])('is not kept away by %s, and removes it', async (_, leave) => {
    const path = leave()
    expect(await meet(path)).toBe('nobody')
    await listening(BOTH)
    expect(existsSync(path)).toBe(false)
    const [place, ...more] = placesOf(BOTH, places)
    expect(more).toEqual([])
    expect(await saidAt(place!.path)).toBe('here')
  })
})

describe('what is removed', () => {
  it('is neither a socket with a listener, nor a draft that may have one in a moment, nor what is not ours', async () => {
    const own = ownFolder(places)
    await listening(BOTH)
    const draft = leaveBehind('0123456789ab.draft')
    writeFileSync(join(own, 'notes'), '')
    const before = readdirSync(own).sort()
    await tidy(own)
    expect(readdirSync(own).sort()).toEqual(before)
    utimesSync(draft, 1e9, 1e9)
    await tidy(own)
    expect(readdirSync(own).sort()).toEqual(before.filter((name) => !draft.endsWith(name)))
  })
})
