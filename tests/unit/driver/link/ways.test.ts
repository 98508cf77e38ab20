/** Each way to a driver, against a peer that is no part of it: sockets of the platform, the server of npm ws, a program. */
import { spawn } from 'node:child_process'
import { createSocket } from 'node:dgram'
import { once } from 'node:events'
import { type AddressInfo, createServer, type Socket } from 'node:net'
import { afterEach, expect, test } from 'vitest'
import { type WebSocket, WebSocketServer } from 'ws'
import type { ByteLine } from '../../../../src/bus/byte-line.js'
import { later } from '../../../../src/clock.js'
import type { Way, WayListener } from '../../../../src/driver/link/messages.js'
import { ProcessWay } from '../../../../src/driver/link/process.js'
import { ByteLineWay } from '../../../../src/driver/link/serial.js'
import { openUdp } from '../../../../src/driver/link/udp.js'
import { openWebSocket } from '../../../../src/driver/link/websocket.js'

/** What a way tells, to be waited for one after the other. */
class Ear implements WayListener {
  readonly heard: string[] = []
  #wake: (() => void) | null = null
  readonly onMessage = (text: string): void => this.#tell(`message ${text}`)
  readonly onSaid = (line: string): void => this.#tell(`said ${line}`)
  readonly onBack = (says: string): void => this.#tell(`back: ${says}`)
  readonly onLost = (trouble: string, says: string): void => this.#tell(`${trouble}: ${says}`)

  async next(): Promise<string> {
    while (this.heard.length === 0)
      await new Promise<void>((resolve) => {
        this.#wake = resolve
      })
    return this.heard.shift()!
  }

  #tell(what: string): void {
    this.heard.push(what)
    this.#wake?.()
  }
}

const toClose: (() => unknown)[] = []
afterEach(async () => {
  for (const close of toClose.splice(0).reverse()) await close()
})

function closing<T extends Way>(way: T): T {
  toClose.push(() => way.close([]))
  return way
}

const udp = { kind: 'udp', host: '127.0.0.1', ownPort: null, ownsBus: false, every: null } as const
const rest = { handshake: 1, answer: 1, rest: null, parked: 0.01 }

test('datagrams: one a message, either way; good-bye is sent before the socket closes', async () => {
  const peer = createSocket('udp4')
  peer.bind(0, '127.0.0.1')
  await once(peer, 'listening')
  toClose.push(() => peer.close())
  const ear = new Ear()
  const way = await openUdp({ ...udp, ...rest, port: peer.address().port }, ear)
  expect(way.place).toBe(`udp 127.0.0.1:${peer.address().port}`)
  way.send('{"n":1}')
  const [bytes, { port }] = await once(peer, 'message')
  expect(String(bytes)).toBe('{"n":1}')
  peer.send('{"ready":1}', port, '127.0.0.1')
  expect(await ear.next()).toBe('message {"ready":1}')
  const bye = once(peer, 'message')
  await way.close(['{"bye":true}'])
  expect(String((await bye)[0])).toBe('{"bye":true}')
  expect(way.open).toBe(false)
  way.send('nothing, and no error')
})

test('datagrams: a command that no datagram can hold is told (RFC 768: 65,507 bytes over IPv4)', async () => {
  const peer = createSocket('udp4')
  peer.bind(0, '127.0.0.1')
  await once(peer, 'listening')
  toClose.push(() => peer.close())
  const ear = new Ear()
  const way = await openUdp({ ...udp, ...rest, port: peer.address().port }, ear)
  way.send('x'.repeat(65_508))
  expect(await ear.next()).toBe('lost: a command of 65508 bytes is too long for a datagram')
  expect(way.open).toBe(false)
})

test('datagrams: one that is deaf hears nothing more, and can still be spoken to', async () => {
  const peer = createSocket('udp4')
  peer.bind(0, '127.0.0.1')
  await once(peer, 'listening')
  toClose.push(() => peer.close())
  const ear = new Ear()
  const way = closing(await openUdp({ ...udp, ...rest, port: peer.address().port }, ear))
  /** To the peer: what it had sent before has been taken from our socket by then. */
  const spoken = async (): Promise<number> => {
    way.send('{"n":1}')
    return (await once(peer, 'message'))[1].port
  }
  const port = await spoken()
  peer.send('heard', port, '127.0.0.1')
  expect(await ear.next()).toBe('message heard')
  way.deafen()
  peer.send('not heard', port, '127.0.0.1')
  for (let i = 0; i < 3; i++) await spoken()
  expect(ear.heard).toEqual([])
  expect(way.open).toBe(true)
})

test('datagrams: a port that is taken is refused', async () => {
  const peer = createSocket('udp4')
  peer.bind(0)
  await once(peer, 'listening')
  toClose.push(() => peer.close())
  const opening = openUdp({ ...udp, ...rest, port: 9, ownPort: peer.address().port }, new Ear())
  await expect(opening).rejects.toMatchObject({ code: 'EADDRINUSE' })
})

async function server(port = 0): Promise<WebSocketServer> {
  const serving = new WebSocketServer({ host: '127.0.0.1', port })
  await once(serving, 'listening')
  toClose.push(() => serving.close())
  return serving
}

const portOf = (serving: WebSocketServer): number => (serving.address() as AddressInfo).port

test('a WebSocket: text either way, and a close with a good-bye before it', async () => {
  const serving = await server()
  const ear = new Ear()
  const connected = once(serving, 'connection')
  const way = await openWebSocket(`ws://127.0.0.1:${portOf(serving)}`, ear, later)
  const [peer] = (await connected) as [WebSocket]
  way.send('{"helm":0.3}')
  expect(String((await once(peer, 'message'))[0])).toBe('{"helm":0.3}')
  peer.send('{"arms":[1]}')
  expect(await ear.next()).toBe('message {"arms":[1]}')
  const heard: string[] = []
  peer.on('message', (bytes) => heard.push(String(bytes)))
  const closed = once(peer, 'close')
  await way.close(['farewell'])
  // Who closes waits for the other: nothing that was said is lost with the process.
  expect(heard).toEqual(['farewell'])
  expect((await closed)[0]).toBe(1000)
})

test('a WebSocket that is deaf hears nothing more, can be spoken to, and closes as any other', async () => {
  const serving = await server()
  const ear = new Ear()
  const connected = once(serving, 'connection')
  // The time for the handshake is never over: who reads nothing must read its end all the same.
  const way = await openWebSocket(`ws://127.0.0.1:${portOf(serving)}`, ear, () => () => {})
  const [peer] = (await connected) as [WebSocket]
  way.deafen()
  peer.send('not heard')
  for (let i = 0; i < 3; i++) {
    way.send('{"n":1}')
    await once(peer, 'message')
  }
  await way.close([])
  expect(ear.heard).toEqual([])
})

test('a WebSocket that is lost is told, connected anew, and told again', async () => {
  const serving = await server()
  const ear = new Ear()
  const connected = once(serving, 'connection')
  const way = closing(
    await openWebSocket(`ws://127.0.0.1:${portOf(serving)}`, ear, (_, task) => later(1, task)),
  )
  const [peer] = (await connected) as [WebSocket]
  const again = once(serving, 'connection')
  peer.close(1001, 'out for lunch')
  expect(await ear.next()).toBe('lost: the connection was closed with code 1001 (out for lunch)')
  const [second] = (await again) as [WebSocket]
  expect(await ear.next()).toBe('back: the driver was connected anew, at try 1')
  way.send('here')
  expect(String((await once(second, 'message'))[0])).toBe('here')
  second.send(Buffer.from([1]), { binary: true })
  expect(await ear.next()).toBe('rubbish: a message of bytes came; expected text')
})

test('a WebSocket that stays away is tried until it is there', async () => {
  const serving = await server()
  const port = portOf(serving)
  const ear = new Ear()
  const connected = once(serving, 'connection')
  let tries = 0
  let tried: () => void = () => {}
  const several = new Promise<void>((resolve) => {
    tried = resolve
  })
  closing(
    await openWebSocket(`ws://127.0.0.1:${port}`, ear, (_, task) =>
      later(1, () => {
        if (++tries === 3) tried()
        task()
      }),
    ),
  )
  const [peer] = (await connected) as [WebSocket]
  serving.close()
  peer.terminate()
  expect(await ear.next()).toMatch(/^lost: /)
  await several
  const anew = await server(port)
  const [second] = (await once(anew, 'connection')) as [WebSocket]
  expect(await ear.next()).toMatch(/^back: the driver was connected anew, at try \d+$/)
  second.send('heard')
  expect(await ear.next()).toBe('message heard')
})

test('a WebSocket that takes nothing any more is told', async () => {
  const serving = await server()
  const ear = new Ear()
  const connected = once(serving, 'connection')
  const way = await openWebSocket(`ws://127.0.0.1:${portOf(serving)}`, ear, later)
  toClose.push(() => way.abandon())
  const [peer] = (await connected) as [WebSocket]
  peer.pause()
  for (let i = 0; i < 100; i++) way.send('x'.repeat(60_000))
  expect(await ear.next()).toBe('stalled: it does not take what is sent to it')
})

test('a WebSocket that nobody serves is refused, with the reason', async () => {
  const serving = await server()
  const port = portOf(serving)
  serving.close()
  await once(serving, 'close')
  await expect(openWebSocket(`ws://127.0.0.1:${port}`, new Ear(), later)).rejects.toThrow(/ECONNREFUSED/)
})

/** A port that takes so many bytes at once; nothing comes of itself. */
class FakeLine implements ByteLine {
  readonly place = '/dev/ttyX'
  readonly descriptor = -1
  taken = ''
  room = Number.POSITIVE_INFINITY
  bytes: (bytes: Uint8Array) => void = () => {}
  lost: (reason: string) => void = () => {}
  closed = false
  write(bytes: Uint8Array, from: number, to: number): number {
    const end = Math.min(to, from + this.room)
    this.room -= end - from
    this.taken += Buffer.from(bytes.subarray(from, end)).toString()
    return end - from
  }
  onBytes(listener: (bytes: Uint8Array) => void): void {
    this.bytes = listener
  }
  onLost(listener: (reason: string) => void): void {
    this.lost = listener
  }
  close(): void {
    this.closed = true
  }
}

test('a serial line: what it does not take waits its turn, in order; a line begun before us is passed over', async () => {
  const line = new FakeLine()
  const ear = new Ear()
  let again: (() => void) | null = null
  const way = new ByteLineWay(line, ear, (_, task) => {
    again = task
    return () => {}
  })
  line.room = 5
  way.send('{"n":1}')
  way.send('{"n":2}')
  expect(line.taken).toBe('{"n":')
  line.room = 100
  again!()
  expect(line.taken).toBe('{"n":1}\n{"n":2}\n')
  line.bytes(Buffer.from('0.5]}\n{"ready":1}\nwords\n'))
  expect(await ear.next()).toBe('message {"ready":1}')
  expect(await ear.next()).toBe('message words')
  line.lost('hung up')
  expect(await ear.next()).toBe('lost: hung up')
  expect(line.closed).toBe(true)
})

test('a serial line: good-bye is said before the port is let go of', async () => {
  const line = new FakeLine()
  const way = new ByteLineWay(line, new Ear(), () => () => {})
  await way.close(['{"bye":true}'])
  expect(line.taken).toBe('{"bye":true}\n')
  expect(line.closed).toBe(true)
})

test('a serial line that takes nothing any more is told', async () => {
  const line = new FakeLine()
  line.room = 0
  const ear = new Ear()
  const way = new ByteLineWay(line, ear, () => () => {})
  for (let i = 0; way.open && i < 10_000; i++) way.send('{"n":12345,"t":1.5,"surge":0.1,"yaw":0}')
  expect(await ear.next()).toMatch(/^stalled: 16\d{3} bytes wait/)
})

const NODE = process.execPath

test('a process: lines either way, words beside them, and how it ended', async () => {
  const ear = new Ear()
  const code = `console.error('up'); process.stdin.once('data', (d) => { process.stdout.write('got ' + d, () => process.exit(4)) })`
  const way = closing(new ProcessWay({ run: [NODE, '-e', code], folder: '/', listener: ear, later }))
  expect(await ear.next()).toBe('said up')
  way.send('{"n":1}')
  expect(await ear.next()).toBe('message got {"n":1}')
  expect(await ear.next()).toBe('lost: it ended with status 4')
  expect(way.open).toBe(false)
})

test('a process: what was under way when it ended is heard before its end is told', async () => {
  const ear = new Ear()
  // The first of the group is gone, and known to be, before another one writes to the pipe that both hold.
  const run = ['/bin/sh', '-c', '(while kill -0 $$; do :; done 2>/dev/null; echo last) & exit 4'] as const
  closing(new ProcessWay({ run, folder: '/', listener: ear, later: () => () => {} }))
  expect(await ear.next()).toBe('message last')
  expect(await ear.next()).toBe('lost: it ended with status 4')
})

test('a process: its end is told though somebody else holds its pipes', async () => {
  const ear = new Ear()
  const waits: number[] = []
  const run = ['/bin/sh', '-c', 'sleep 1000 & exit 4'] as const
  closing(
    new ProcessWay({
      run,
      folder: '/',
      listener: ear,
      later: (ms, task) => {
        waits.push(ms)
        return later(1, task)
      },
    }),
  )
  expect(await ear.next()).toBe('lost: it ended with status 4')
  expect(waits).toEqual([30])
})

/** A server to which a program holds a connection: it closes when that is gone. */
async function holding(): Promise<{ port: number; connected: Promise<Socket> }> {
  const serving = createServer()
  serving.listen(0, '127.0.0.1')
  await once(serving, 'listening')
  toClose.push(() => serving.close())
  const connected = once(serving, 'connection').then(([socket]) => {
    socket.on('error', () => {})
    toClose.push(() => socket.destroy())
    return socket as Socket
  })
  return { port: (serving.address() as AddressInfo).port, connected }
}

/** Heeds no signal, and holds a connection to that port; without it nothing keeps it. */
const deafTo = (port: number): string =>
  `for (const s of ['SIGTERM', 'SIGINT', 'SIGHUP']) process.on(s, () => {}); require('node:net').connect(${port}, '127.0.0.1').on('error', () => {})`

test('a process that ends when it is told good-bye: what it left behind is ended with it', async () => {
  const { port, connected } = await holding()
  const child = `require('node:child_process').spawn(process.execPath, ['-e', ${JSON.stringify(deafTo(port))}], { stdio: 'ignore' })`
  const code = `${child}; process.stdin.on('data', () => process.exit(0))`
  const way = new ProcessWay({ run: [NODE, '-e', code], folder: '/', listener: new Ear(), later })
  const socket = await connected
  const gone = once(socket, 'close')
  socket.resume()
  await way.close(['{"bye":true}'])
  await gone
  expect(way.open).toBe(false)
})

test('a process that reads nothing is told when too much waits for it', async () => {
  const ear = new Ear()
  const way = new ProcessWay({
    run: [NODE, '-e', 'setInterval(() => {}, 1e6)'],
    folder: '/',
    listener: ear,
    later,
  })
  toClose.push(() => way.abandon())
  for (let i = 0; way.open && i < 1e5; i++) way.send('x'.repeat(1000))
  expect(await ear.next()).toBe('stalled: it does not read what is sent to it')
})

test('a process that heeds no signal dies with the process that started it, however that died', async () => {
  // It holds a connection to us, which closes when it is gone, whatever became of its parent.
  const { port, connected } = await holding()
  const deaf = `${deafTo(port)}; setInterval(() => {}, 1e6)`
  const module = new URL('../../../../dist/driver/link/process.js', import.meta.url).href
  const starter = `import(${JSON.stringify(module)}).then(({ ProcessWay }) => new ProcessWay({ run: [process.execPath, '-e', ${JSON.stringify(deaf)}], folder: '/', listener: { onSaid() {}, onMessage() {}, onLost() {} }, later: () => () => {} }))`
  const parent = spawn(NODE, ['-e', starter], { stdio: 'inherit' })
  const socket = await connected
  const gone = once(socket, 'close')
  socket.resume()
  parent.kill('SIGKILL')
  await once(parent, 'exit')
  await gone
  expect(parent.signalCode).toBe('SIGKILL')
})
