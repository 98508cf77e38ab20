/** Lines of bytes for tests: over loopback, and over a pair of pseudo-terminals; both count what has gone through. */
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdtempSync, rmSync } from 'node:fs'
import { type AddressInfo, connect, createServer, type Socket } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { ByteLine } from '../../src/bus/byte-line.js'
import { openSerial } from '../../src/bus/serial.js'
import { TcpLine } from '../../src/bus/tcp.js'

/** A line that counts. */
export class CountedLine implements ByteLine {
  sent = 0
  received = 0
  ended = false
  readonly #line: ByteLine

  constructor(line: ByteLine) {
    this.#line = line
    line.onBytes((bytes) => {
      this.received += bytes.length
    })
    line.onLost(() => {
      this.ended = true
    })
  }

  get place(): string {
    return this.#line.place
  }

  get descriptor(): number {
    return this.#line.descriptor
  }

  write(bytes: Uint8Array, from: number, to: number): number | null {
    const taken = this.#line.write(bytes, from, to)
    this.sent += taken ?? 0
    return taken
  }

  onBytes(listener: (bytes: Uint8Array) => void): void {
    this.#line.onBytes(listener)
  }

  onLost(listener: (reason: string) => void): void {
    this.#line.onLost(listener)
  }

  close(): void {
    this.ended = true
    this.#line.close()
  }
}

export interface LinePair {
  readonly near: CountedLine
  readonly far: CountedLine
  /** The line breaks, as by a reset connection or a pulled plug. */
  hangUp(): Promise<void> | void
  end(): Promise<void> | void
}

/** Waits, event by event, until `done`. A test's own time-out is the bound. */
export async function until(done: () => boolean): Promise<void> {
  while (!done()) await new Promise((resolve) => setTimeout(resolve, 1))
}

/** Ends when each end that is still there has seen all that the other one has sent. */
export function allThrough({ near, far }: LinePair): Promise<void> {
  const heard = (end: CountedLine, other: CountedLine) => end.ended || end.received === other.sent
  return until(() => heard(near, far) && heard(far, near))
}

export async function socketPair(): Promise<{ near: Socket; far: Socket; end(): void }> {
  const server = createServer()
  server.listen(0, '127.0.0.1')
  await once(server, 'listening')
  const accepted = once(server, 'connection')
  const near = connect((server.address() as AddressInfo).port, '127.0.0.1')
  await once(near, 'connect')
  const [far] = (await accepted) as [Socket]
  server.close()
  return {
    near,
    far,
    end: () => {
      near.destroy()
      far.destroy()
    },
  }
}

export async function tcpPair(): Promise<LinePair> {
  const { near, far, end } = await socketPair()
  return {
    near: new CountedLine(new TcpLine(near, 'near')),
    far: new CountedLine(new TcpLine(far, 'far')),
    hangUp: () => {
      far.resetAndDestroy()
    },
    end,
  }
}

/** Two pseudo-terminals, joined, each behind a link; needs the Debian package socat. */
export async function joinedPtys(): Promise<{ near: string; far: string; end(): Promise<void> }> {
  const folder = mkdtempSync(join(tmpdir(), 'drystroke-pty-'))
  const [near, far] = [join(folder, 'near'), join(folder, 'far')]
  const socat = spawn('socat', ['-d', '-d', `pty,raw,echo=0,link=${near}`, `pty,raw,echo=0,link=${far}`], {
    stdio: ['ignore', 'ignore', 'pipe'],
  })
  const gone = once(socat, 'exit')
  let said = ''
  for await (const text of socat.stderr) {
    said += text
    if (said.includes('starting data transfer loop')) break
  }
  return {
    near,
    far,
    end: async () => {
      if (socat.exitCode !== null || socat.signalCode !== null) return
      socat.kill()
      await gone
      rmSync(folder, { recursive: true, force: true })
    },
  }
}

export async function ptyPair(): Promise<LinePair> {
  const ptys = await joinedPtys()
  const near = new CountedLine(await openSerial(ptys.near, 115_200))
  const far = new CountedLine(await openSerial(ptys.far, 115_200))
  return {
    near,
    far,
    hangUp: ptys.end,
    end: async () => {
      near.close()
      far.close()
      await ptys.end()
    },
  }
}
