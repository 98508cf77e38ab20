/** Where the guardian of a rig is met: one place a rig and its buses, in a folder of its owner's alone. */
import { chmodSync, lstatSync, mkdirSync, statSync, symlinkSync, writeFileSync } from 'node:fs'
import { createServer, type Server } from 'node:net'
import { dirname, join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import type { Rig } from '../../../../src/files/rig.js'
import { listenAt, meet, meetingPlace } from '../../../../src/stop/guardian/meeting-place.js'
import { temporaryFolder } from '../../../setup/runs.js'

const { XDG_RUNTIME_DIR } = process.env
const root = temporaryFolder()
let count = 0
const servers: Server[] = []
beforeEach(() => {
  const folder = join(root, `${count++}`)
  mkdirSync(folder)
  process.env.XDG_RUNTIME_DIR = folder
})
afterEach(async () => {
  if (XDG_RUNTIME_DIR === undefined) delete process.env.XDG_RUNTIME_DIR
  else process.env.XDG_RUNTIME_DIR = XDG_RUNTIME_DIR
  for (const server of servers.splice(0)) await new Promise((resolve) => server.close(resolve))
})

type Named = Pick<Rig, 'name' | 'buses'>
const rig = (name: string, port = 7001): Named => ({
  name,
  buses: [
    {
      index: 0,
      name: 'port-can',
      address: { kind: 'slcan', host: '127.0.0.1', port },
      bitrate: 1e6,
      serialRate: 115_200,
      controlword: null,
      queue: 32,
    },
  ],
})

async function listening(path: string): Promise<Server> {
  const server = createServer((socket) => {
    socket.on('error', () => {})
    socket.end('here')
  })
  servers.push(server)
  await listenAt(path, server)
  return server
}

describe('the place', () => {
  it('is the same for the same rig on the same buses, and another otherwise', () => {
    expect(meetingPlace(rig('skiff'))).toBe(meetingPlace(rig('skiff')))
    expect(meetingPlace(rig('skiff'))).not.toBe(meetingPlace(rig('boat')))
    expect(meetingPlace(rig('skiff'))).not.toBe(meetingPlace(rig('skiff', 7002)))
  })

  it('lies in a folder that only its owner can enter', () => {
    const folder = dirname(meetingPlace(rig('skiff')))
    expect(dirname(folder)).toBe(process.env.XDG_RUNTIME_DIR)
    expect(statSync(folder).mode & 0o777).toBe(0o700)
  })

  it('is refused when others can enter the folder', () => {
    chmodSync(dirname(meetingPlace(rig('skiff'))), 0o755)
    expect(() => meetingPlace(rig('skiff'))).toThrow(
      /can be entered by others: expected a folder of your own/,
    )
  })

  it('is refused when a link stands where the folder should be', () => {
    const base = process.env.XDG_RUNTIME_DIR!
    mkdirSync(join(base, 'elsewhere'), { mode: 0o700 })
    symlinkSync(join(base, 'elsewhere'), join(base, `drystroke-${process.getuid!()}`))
    expect(() => meetingPlace(rig('skiff'))).toThrow(/is no folder/)
  })

  it('that is too long for a socket is refused with what to do', () => {
    const long = join(process.env.XDG_RUNTIME_DIR!, 'x'.repeat(100))
    mkdirSync(long)
    process.env.XDG_RUNTIME_DIR = long
    expect(() => meetingPlace(rig('skiff'))).toThrow(/too long for a Unix socket.*XDG_RUNTIME_DIR/)
  })
})

describe('listening', () => {
  it('lets in its owner alone, and whoever comes is heard', async () => {
    const path = meetingPlace(rig('skiff'))
    await listening(path)
    expect(statSync(path).mode & 0o777).toBe(0o600)
    const socket = await meet(path)
    const said = await new Promise((resolve) => socket!.once('data', (bytes) => resolve(String(bytes))))
    expect(said).toBe('here')
    socket!.destroy()
  })

  it('where nobody listens nobody is met', async () => {
    expect(await meet(meetingPlace(rig('skiff')))).toBeNull()
  })

  it('a second one is refused: a run is under way', async () => {
    const path = meetingPlace(rig('skiff'))
    await listening(path)
    await expect(listenAt(path, createServer())).rejects.toThrow(/another run on this rig/)
  })

  it.each([
    [
      'a socket that was left behind',
      async (path: string) => {
        // A socket file without a listener: what kill -9 leaves.
        const { spawnSync } = await import('node:child_process')
        const leave = `require('net').createServer().listen(${JSON.stringify(path)}, () => process.kill(process.pid, 'SIGKILL'))`
        spawnSync(process.execPath, ['-e', leave])
        expect(lstatSync(path).isSocket()).toBe(true)
      },
    ],
    ['a file', async (path: string) => writeFileSync(path, '')],
    ['a link to nowhere', async (path: string) => symlinkSync('/nowhere/at/all', path)],
  ])('%s is replaced', async (_, leave) => {
    const path = meetingPlace(rig('skiff'))
    await leave(path)
    expect(await meet(path)).toBeNull()
    await listening(path)
    expect(lstatSync(path).isSocket()).toBe(true)
    const socket = await meet(path)
    expect(socket).not.toBeNull()
    socket!.destroy()
  })
})
