/**
 * A stop from a terminal of its own: whose word counts, and that the buses are opened where nobody answers whose word does. Real
 * sockets in folders of the test's; behind the buses there is an adapter, and no arm.
 */
import { chmodSync, mkdirSync, readFileSync } from 'node:fs'
import { createServer, type Server, type Socket } from 'node:net'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { listenSlcan } from '../../../src/bus/slcan-server.js'
import { RealTime } from '../../../src/clock.js'
import { loadRig } from '../../../src/files/load.js'
import type { Rig } from '../../../src/files/rig.js'
import { Askers } from '../../../src/stop/guardian/askers.js'
import { listenFor } from '../../../src/stop/guardian/meeting-place.js'
import type { Halted } from '../../../src/stop/halt.js'
import { markedSince } from '../../../src/stop/mark.js'
import { driveNames, type Places } from '../../../src/stop/places.js'
import { stopArms } from '../../../src/stop/stop-arms.js'
import { temporaryFolder } from '../../setup/runs.js'
import { watchSchemas } from '../files/watch-schemas.js'

const SMALL = readFileSync(new URL('../files/small-rig.yaml', import.meta.url), 'utf8')
const uid = process.getuid!()
const folder = temporaryFolder()
const ends: (() => unknown)[] = []
let count = 0
let places: Places
/** Buses on which a quick stop has come in, in order. */
let stopped: string[]
let onStopped: () => void
let rig: Rig
beforeEach(async () => {
  const root = join(folder, `${count++}`)
  mkdirSync(root)
  places = { roots: [root], uid, trusted: [0, uid] }
  stopped = []
  onStopped = () => {}
  const ports: number[] = []
  for (const [name, id] of [
    ['can-a', 0x30b],
    ['can-b', 0x181],
  ] as const) {
    const server = await listenSlcan('127.0.0.1', 0, new RealTime(), (peer) =>
      peer.onFrame((f) => {
        if (f.id !== id || f.data[0] !== 2 || stopped.includes(name)) return
        stopped.push(name)
        if (stopped.length === 2) onStopped()
      }),
    )
    ends.push(() => server.close())
    ports.push(server.port)
  }
  rig = rigOn(ports)
})
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end()
})

function rigOn(ports: readonly number[], name = 'small'): Rig {
  let bus = 0
  const text = SMALL.replace(/address: mock/g, () => `address: slcan:tcp:127.0.0.1:${ports[bus++]}`).replace(
    /^name: .*/m,
    `name: ${name}`,
  )
  return loadRig(`${text}stop: { timeout: "200 ms", sag-window: "100 ms" }\n`, 'rig.yaml', watchSchemas)
}

const drives = (of: Rig): Halted[] =>
  of.joints.map(({ index, name }) => ({
    joint: index,
    place: name,
    state: 'switch on disabled',
    off: true,
    since: 0,
    sag: 0,
  }))

/** One that has its arms stopped at once. @param of the rig that it guards */
async function guardian(of: Rig, at: Places = places): Promise<{ asked: number }> {
  const seen = { asked: 0 }
  const askers: Askers = new Askers(of.name, driveNames(of).flat(), () => {
    seen.asked++
    setImmediate(() => askers.tell({ what: 'stopped', by: 'guardian', drives: drives(of), t: 0 }))
  })
  await listen(of, askers.server, at)
  return seen
}

/** Something that listens where a guardian would. */
async function impostor(answer: (socket: Socket) => void, at: Places = places): Promise<{ asked: number }> {
  const seen = { asked: 0 }
  const server = createServer((socket) => {
    ends.push(() => socket.destroy())
    socket.on('error', () => {})
    socket.on('data', () => {
      seen.asked++
      answer(socket)
    })
  })
  await listen(rig, server, at)
  return seen
}

async function listen(of: Rig, server: Server, at: Places): Promise<void> {
  const leave = await listenFor(of, server, at)
  ends.push(leave, () => server.close())
}

const stop = (by: Places = places) => stopArms(rig, new RealTime(), by)
const whenStopped = (act: () => void): void => {
  onStopped = act
}
const write = (socket: Socket, text: string): void => {
  socket.write(text)
}
const line = (value: unknown): string => `${JSON.stringify(value)}\n`
const HEARD = (): string => line({ what: 'heard', rig: 'small', stops: driveNames(rig).flat() })
const ALL_WELL = (): string => line({ what: 'stopped', by: 'guardian', drives: drives(rig), t: 0 })

describe('a guardian of ours', () => {
  it('is asked, and no bus is opened', async () => {
    const seen = await guardian(rig)
    const { parts, unreachable, others, troubles } = await stop()
    expect(parts).toEqual([{ by: 'guardian', drives: drives(rig) }])
    expect({ unreachable, others, troubles }).toEqual({ unreachable: [], others: [], troubles: [] })
    expect(seen.asked).toBe(1)
    expect(stopped).toEqual([])
  })

  it('is found whatever its rig is called', async () => {
    const seen = await guardian({ ...rig, name: 'another' })
    const { parts } = await stop()
    expect(parts.map((p) => p.by)).toEqual(['guardian'])
    expect(seen.asked).toBe(1)
  })

  it('that has one of the two buses stops that, and the other one is opened', async () => {
    const half = {
      ...rig,
      buses: rig.buses.slice(0, 1),
      joints: rig.joints.filter((j) => j.wire.bus === 0),
    }
    await guardian(half)
    const { parts } = await stop()
    expect(parts.map((p) => [p.by, p.drives.map((d) => d.joint)])).toEqual([
      ['guardian', [0]],
      ['ourselves', [1]],
    ])
    expect(stopped).toEqual(['can-b'])
  })

  it('that does not know a drive of the bus is asked, and the bus is opened as well', async () => {
    const seen = await guardian({ ...rig, joints: rig.joints.filter((j) => j.wire.bus === 0) })
    await stop()
    expect(seen.asked).toBe(1)
    expect(stopped).toEqual(['can-b'])
  })

  it.each([
    ['does not answer', () => {}],
    ['goes away without a word', (socket: Socket) => void socket.destroy()],
    ['speaks something else', (socket: Socket) => void socket.write('null\n')],
  ])('that %s: the buses are opened', async (_, answer) => {
    const seen = await impostor(answer)
    const { parts } = await stop()
    expect(seen.asked).toBe(1)
    expect(parts.map((p) => p.by)).toEqual(['ourselves'])
    expect(stopped.sort()).toEqual(['can-a', 'can-b'])
  })
})

describe('a guardian of another user', () => {
  /** We are somebody else than whoever made the folders here. */
  const stranger = (): Places => ({ ...places, uid: uid + 1, trusted: [uid + 1] })

  it.each([
    ['that never answers', () => {}, []],
    ['that hears, and says no more', (s: Socket) => write(s, HEARD()), [uid]],
    ['that says that all is well', (s: Socket) => write(s, HEARD() + ALL_WELL()), [uid]],
    [
      'that says so once the buses have been stopped',
      (s: Socket) => whenStopped(() => write(s, HEARD() + ALL_WELL())),
      [uid],
    ],
  ] as const)('%s is asked, and the buses are opened all the same, at once', async (_, answer, others) => {
    const seen = await impostor(answer)
    const report = await stop(stranger())
    expect(seen.asked).toBe(1)
    expect(report.parts.map((p) => p.by)).toEqual(['ourselves'])
    expect(report.others).toEqual(others)
    expect(stopped.sort()).toEqual(['can-a', 'can-b'])
  })

  it('is not in the way of ours', async () => {
    const [mine, theirs] = [await guardian(rig), await impostorOfAnother()]
    const { parts } = await stop({ ...places, roots: [...places.roots, theirs.root], trusted: [uid] })
    expect(parts.map((p) => p.by)).toEqual(['guardian'])
    expect(mine.asked).toBe(1)
  })
})

/** In a folder of another user's, where the test may make such a one; else in one of ours that others can write to. */
async function impostorOfAnother(): Promise<{ root: string }> {
  const root = join(folder, `${count++}`)
  mkdirSync(root)
  await impostor(() => {}, { ...places, roots: [root] })
  chmodSync(join(root, `drystroke-stop-${uid}`), 0o777)
  return { root }
}

describe('no place to meet', () => {
  it('is told, and the buses are opened', async () => {
    const { parts, troubles } = await stop({ ...places, roots: [join(folder, 'nowhere')] })
    expect(parts.map((p) => p.by)).toEqual(['ourselves'])
    expect(stopped.sort()).toEqual(['can-a', 'can-b'])
    expect(troubles).toEqual([expect.stringContaining('No folder can be made')])
  })
})

it('a run that begins meanwhile finds the mark', async () => {
  await guardian(rig)
  await stop()
  expect(markedSince(rig, '', places)).toBe(true)
})
