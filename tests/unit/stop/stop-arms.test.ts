/**
 * A stop from a terminal of its own: whose word counts, and that the buses are opened where nobody answers whose word does. Real
 * sockets in folders of the test's; behind the buses there is an adapter, and no arm. Most of it is waiting for who never answers, each for
 * the full time: the tests wait side by side.
 */
import { chmodSync, mkdirSync, readFileSync } from 'node:fs'
import { createServer, type Server, type Socket } from 'node:net'
import { join } from 'node:path'
import { describe, expect, it, type TestContext } from 'vitest'
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
let count = 0

const drives = (of: Rig): Halted[] =>
  of.joints.map(({ index, name }) => ({
    joint: index,
    place: name,
    state: 'switch on disabled',
    off: true,
    since: 0,
    sag: 0,
  }))
const write = (socket: Socket, text: string): void => {
  socket.write(text)
}
const line = (value: unknown): string => `${JSON.stringify(value)}\n`

/** Two buses, a place to meet, and whoever listens there. */
class Scene {
  readonly rig: Rig
  readonly places: Places
  /** Buses on which a quick stop has come in, in order. */
  readonly stopped: string[] = []
  onStopped = (): void => {}
  readonly #ends: (() => unknown)[]

  constructor(rig: Rig, places: Places, ends: (() => unknown)[]) {
    this.rig = rig
    this.places = places
    this.#ends = ends
  }

  /** Goes away with the test. */
  static async of({ onTestFinished }: Pick<TestContext, 'onTestFinished'>): Promise<Scene> {
    const root = join(folder, `${count++}`)
    mkdirSync(root)
    const ends: (() => unknown)[] = []
    onTestFinished(async () => {
      for (const end of ends.splice(0).reverse()) await end()
    })
    let scene: Scene | undefined
    const ports: number[] = []
    for (const [name, id] of [
      ['can-a', 0x30b],
      ['can-b', 0x181],
    ] as const) {
      const server = await listenSlcan('127.0.0.1', 0, new RealTime(), (peer) =>
        peer.onFrame((f) => {
          if (f.id === id && f.data[0] === 2) scene!.#stops(name)
        }),
      )
      ends.push(() => server.close())
      ports.push(server.port)
    }
    scene = new Scene(rigOn(ports), { roots: [root], uid, trusted: [0, uid] }, ends)
    return scene
  }

  stop(by: Places = this.places) {
    return stopArms(this.rig, new RealTime(), by)
  }

  get heard(): string {
    return line({ what: 'heard', rig: 'small', stops: driveNames(this.rig).flat() })
  }

  get allWell(): string {
    return line({ what: 'stopped', by: 'guardian', drives: drives(this.rig), t: 0 })
  }

  /** We are somebody else than whoever made the folders here. */
  get stranger(): Places {
    return { ...this.places, uid: uid + 1, trusted: [uid + 1] }
  }

  /** One that has its arms stopped at once. @param of the rig that it guards */
  async guardian(of: Rig = this.rig): Promise<{ asked: number }> {
    const seen = { asked: 0 }
    const askers: Askers = new Askers(of.name, driveNames(of).flat(), () => {
      seen.asked++
      setImmediate(() => askers.tell({ what: 'stopped', by: 'guardian', drives: drives(of), t: 0 }))
    })
    await this.#listen(of, askers.server, this.places)
    return seen
  }

  /** Something that listens where a guardian would. */
  async impostor(answer: (socket: Socket) => void, at: Places = this.places): Promise<{ asked: number }> {
    const seen = { asked: 0 }
    const server = createServer((socket) => {
      this.#ends.push(() => socket.destroy())
      socket.on('error', () => {})
      socket.on('data', () => {
        seen.asked++
        answer(socket)
      })
    })
    await this.#listen(this.rig, server, at)
    return seen
  }

  /** In a folder of another user's, where the test may make such a one; else in one of ours that others can write to. */
  async impostorOfAnother(): Promise<{ root: string }> {
    const root = join(folder, `${count++}`)
    mkdirSync(root)
    await this.impostor(() => {}, { ...this.places, roots: [root] })
    chmodSync(join(root, `drystroke-stop-${uid}`), 0o777)
    return { root }
  }

  async #listen(of: Rig, server: Server, at: Places): Promise<void> {
    const leave = await listenFor(of, server, at)
    this.#ends.push(leave, () => server.close())
  }

  #stops(bus: string): void {
    if (this.stopped.includes(bus)) return
    this.stopped.push(bus)
    if (this.stopped.length === 2) this.onStopped()
  }
}

function rigOn(ports: readonly number[]): Rig {
  let bus = 0
  const text = SMALL.replace(/address: mock/g, () => `address: slcan:tcp:127.0.0.1:${ports[bus++]}`).replace(
    /^name: .*/m,
    'name: small',
  )
  return loadRig(`${text}stop: { timeout: "200 ms", sag-window: "100 ms" }\n`, 'rig.yaml', watchSchemas)
}

describe.concurrent('a guardian of ours', () => {
  it('is asked, and no bus is opened', async (test) => {
    const scene = await Scene.of(test)
    const { rig } = scene
    const seen = await scene.guardian()
    const { parts, unreachable, others, troubles } = await scene.stop()
    expect(parts).toEqual([{ by: 'guardian', drives: drives(rig) }])
    expect({ unreachable, others, troubles }).toEqual({ unreachable: [], others: [], troubles: [] })
    expect(seen.asked).toBe(1)
    expect(scene.stopped).toEqual([])
  })

  it('is found whatever its rig is called', async (test) => {
    const scene = await Scene.of(test)
    const seen = await scene.guardian({ ...scene.rig, name: 'another' })
    const { parts } = await scene.stop()
    expect(parts.map((p) => p.by)).toEqual(['guardian'])
    expect(seen.asked).toBe(1)
  })

  it('that has one of the two buses stops that, and the other one is opened', async (test) => {
    const scene = await Scene.of(test)
    const { rig } = scene
    await scene.guardian({
      ...rig,
      buses: rig.buses.slice(0, 1),
      joints: rig.joints.filter((j) => j.wire.bus === 0),
    })
    const { parts } = await scene.stop()
    expect(parts.map((p) => [p.by, p.drives.map((d) => d.joint)])).toEqual([
      ['guardian', [0]],
      ['ourselves', [1]],
    ])
    expect(scene.stopped).toEqual(['can-b'])
  })

  it('that does not know a drive of the bus is asked, and the bus is opened as well', async (test) => {
    const scene = await Scene.of(test)
    const { rig } = scene
    const seen = await scene.guardian({ ...rig, joints: rig.joints.filter((j) => j.wire.bus === 0) })
    await scene.stop()
    expect(seen.asked).toBe(1)
    expect(scene.stopped).toEqual(['can-b'])
  })

  it.for([
    ['does not answer', (): void => {}],
    ['goes away without a word', (socket: Socket): void => void socket.destroy()],
    ['speaks something else', (socket: Socket): void => write(socket, 'null\n')],
  ] as const)('that %s: the buses are opened', async ([_, answer], test) => {
    const scene = await Scene.of(test)
    const seen = await scene.impostor(answer)
    const { parts } = await scene.stop()
    expect(seen.asked).toBe(1)
    expect(parts.map((p) => p.by)).toEqual(['ourselves'])
    expect(scene.stopped.sort()).toEqual(['can-a', 'can-b'])
  })
})

describe.concurrent('a guardian of another user', () => {
  it.for([
    ['that never answers', () => {}, []],
    ['that hears, and says no more', (s: Socket, scene: Scene) => write(s, scene.heard), [uid]],
    ['that says that all is well', (s: Socket, scene: Scene) => write(s, scene.heard + scene.allWell), [uid]],
    [
      'that says so once the buses have been stopped',
      (s: Socket, scene: Scene) => {
        scene.onStopped = () => write(s, scene.heard + scene.allWell)
      },
      [uid],
    ],
  ] as const)(
    '%s is asked, and the buses are opened all the same, at once',
    async ([_, answer, others], test) => {
      const scene = await Scene.of(test)
      const seen = await scene.impostor((socket) => answer(socket, scene))
      const report = await scene.stop(scene.stranger)
      expect(seen.asked).toBe(1)
      expect(report.parts.map((p) => p.by)).toEqual(['ourselves'])
      expect(report.others).toEqual(others)
      expect(scene.stopped.sort()).toEqual(['can-a', 'can-b'])
    },
  )

  it('is not in the way of ours', async (test) => {
    const scene = await Scene.of(test)
    const { places } = scene
    const [mine, theirs] = [await scene.guardian(), await scene.impostorOfAnother()]
    const { parts } = await scene.stop({ ...places, roots: [...places.roots, theirs.root], trusted: [uid] })
    expect(parts.map((p) => p.by)).toEqual(['guardian'])
    expect(mine.asked).toBe(1)
  })
})

describe.concurrent('no place to meet', () => {
  it('is told, and the buses are opened', async (test) => {
    const scene = await Scene.of(test)
    const nowhere = { ...scene.places, roots: [join(folder, 'nowhere')] }
    const { parts, troubles } = await scene.stop(nowhere)
    expect(parts.map((p) => p.by)).toEqual(['ourselves'])
    expect(scene.stopped.sort()).toEqual(['can-a', 'can-b'])
    expect(troubles).toEqual([expect.stringContaining('No folder can be made')])
  })
})

it.concurrent('a run that begins meanwhile finds the mark', async (test) => {
  const scene = await Scene.of(test)
  await scene.guardian()
  await scene.stop()
  expect(markedSince(scene.rig, '', scene.places)).toBe(true)
})
