/**
 * The bench process's side of the guardian: starts it before arms are enabled, tells it of each finished tick, and learns
 * when another terminal wants a stop or the guardian is lost. A run without its guardian is stopped.
 */
import { spawn } from 'node:child_process'
import { writeSync } from 'node:fs'
import type { Socket } from 'node:net'
import { fileURLToPath } from 'node:url'
import type { Adapter } from '../../bus/adapter.js'
import { later, type Nanos, type RealTime } from '../../clock.js'
import { DrystrokeError } from '../../errors.js'
import type { Rig } from '../../files/rig.js'
import type { Count } from '../../link/protocol.js'
import type { Halted } from '../halt.js'
import { BEAT, type Hold, LineReader, lineOf, type ToBench, type ToGuardian } from './messages.js'

/** ms, until it says that it is ready. */
const READY_WITHIN = 20_000
/** ms from the end of its line until its exit status must be there, which says more. */
const EXIT_FOLLOWS = 1000
/** ms, until it has gone after a good-bye. */
const GONE_WITHIN = 3000
/**
 * No work for V8's helper threads. At the guardian's priority they would take 15 ms at a time from the loop to optimise what
 * runs well without; at normal priority, collecting garbage would wait for them.
 */
const FLAGS = ['--single-threaded-gc', '--no-opt']
/** Of the first inherited line in the guardian: behind standard input, output, error and the line to the bench process. */
const FIRST_LINE = 4
/** The guardian answers beats; without an answer for so many of its time-outs it is lost. */
const UNANSWERED = 5
const NO_ANSWER = 'it no longer answers'

export interface GuardianRequest {
  /** As it is for this run: the guardian is given no file. */
  readonly rig: Rig
  /** The bench process's open buses, one a bus of the rig: their lines are inherited. */
  readonly buses: readonly Pick<Adapter, 'descriptor'>[]
  readonly clock: Pick<RealTime, 'now' | 'base'>
  /** The recording, for the guardian's own account; null: none is kept. */
  readonly folder: string | null
  /** Another terminal wants the arms stopped: `obeyed` is called once they are told, within the guardian's time-out. */
  readonly onStopAsked: () => void
  /** Called once: nobody guards any more, and the run must be stopped. */
  readonly onLost: (says: string) => void
}

export interface Guardian {
  readonly pid: number
  /** Its real-time priority, null: not granted; then the bench process takes none either. */
  readonly fifo: number | null
  /**
   * A tick was finished. Costs one write, of one byte unless counters have moved.
   * @param counts rolling counters of stop frames (`JointLink.stopCounts`)
   */
  beat(counts?: readonly (readonly Count[])[] | null): void
  /** A driver that owns the buses runs in this process, the first of its group: whoever stops the arms without us ends it. */
  driver(pid: number): void
  /** The stop that another terminal asked for is in force. */
  obeyed(): void
  /** What the drives have confirmed of it: given once, when all have or at the end, before the good-bye. */
  report(drives: readonly Halted[]): void
  /** Good-bye: nothing is left that would have to be stopped. */
  end(): Promise<void>
}

/** @throws DrystrokeError `guardian` when it cannot be started */
export async function startGuardian(request: GuardianRequest): Promise<Guardian> {
  const { rig, clock, folder } = request
  const { holds, lines } = holdsOf(request)
  const program = fileURLToPath(new URL('./main.js', import.meta.url))
  const child = spawn(process.execPath, [...FLAGS, program], {
    detached: true,
    stdio: ['ignore', 'ignore', 'ignore', 'pipe', ...lines],
  })
  const socket = child.stdio[3] as Socket
  const descriptor = descriptorOf(socket)
  child.unref()
  return new Promise((resolve, reject) => {
    let guardian: Connected | null = null
    let settled = false
    const failed = (says: string): void => {
      if (guardian) {
        guardian.lost(says)
        return
      }
      if (settled) return
      settled = true
      forget()
      child.kill('SIGKILL')
      reject(new DrystrokeError('guardian', `The guardian could not be started: ${says}`, { rig: rig.name }))
    }
    const forget = later(READY_WITHIN, () => failed(`it was not ready within ${READY_WITHIN / 1000} s`))
    const reader = new LineReader()
    child.once('error', (error) => failed(error.message))
    child.once('exit', (status, signal) => failed(`it ended (${signal ?? `status ${status}`})`))
    const cut = (): void => {
      if (guardian) guardian.lost('it closed its line')
      else later(EXIT_FOLLOWS, () => failed('it closed its line'))
    }
    socket.on('error', cut)
    socket.on('close', cut)
    socket.on('data', (bytes) => {
      reader.read(bytes, (line) => {
        if (line === '') {
          guardian?.answered()
          return
        }
        const said = JSON.parse(line) as ToBench
        if (said.what === 'failed') failed(said.says)
        else if (said.what === 'stop') request.onStopAsked()
        else if (!settled) {
          settled = true
          forget()
          guardian = new Connected(request, child.pid!, said.fifo, socket, descriptor)
          resolve(guardian)
        }
      })
    })
    const { base } = clock
    socket.write(lineOf({ what: 'guard', pid: process.pid, rig, holds, folder, base }))
  })
}

/** Lines to inherit, and what the guardian is told of each bus. */
function holdsOf({ rig, buses }: GuardianRequest): { holds: Hold[]; lines: number[] } {
  const lines: number[] = []
  const holds = rig.buses.map(({ address, index }): Hold => {
    if (address.kind === 'mock') return { by: 'nothing' }
    const { descriptor } = buses[index]!
    if (descriptor === null) return { by: 'interface' }
    lines.push(descriptor)
    return { by: 'descriptor', descriptor: FIRST_LINE + lines.length - 1 }
  })
  return { holds, lines }
}

/** It is no public property, but has been there in all versions; without it a beat would go the long way. */
function descriptorOf(socket: Socket): number {
  const { _handle: handle } = socket as Socket & { readonly _handle?: { readonly fd?: number } | null }
  if (handle?.fd !== undefined && handle.fd >= 0) return handle.fd
  throw new DrystrokeError('defect', 'the line to the guardian has no descriptor')
}

class Connected implements Guardian {
  readonly pid: number
  readonly fifo: number | null
  readonly #request: GuardianRequest
  readonly #socket: Socket
  readonly #descriptor: number
  readonly #patience: Nanos
  /** Time of its last sign of life, or of the first beat. */
  #answered: Nanos | null = null
  #over = false
  /** Said last, as a line. */
  #counts = ''
  #onGone: () => void = () => {}

  constructor(
    request: GuardianRequest,
    pid: number,
    fifo: number | null,
    socket: Socket,
    descriptor: number,
  ) {
    this.#request = request
    this.pid = pid
    this.fifo = fifo
    this.#socket = socket
    this.#descriptor = descriptor
    this.#patience = UNANSWERED * request.rig.guardian.timeout * 1e9
  }

  beat(counts: readonly (readonly Count[])[] | null = null): void {
    if (this.#over) return
    const t = this.#request.clock.now()
    this.#answered ??= t
    if (t - this.#answered > this.#patience) {
      this.lost(NO_ANSWER)
      return
    }
    try {
      const bytes = counts === null ? BEAT : this.#beatWith(counts)
      if (writeSync(this.#descriptor, bytes) < bytes.length) this.lost('its line is full')
    } catch (error) {
      const { code } = error as NodeJS.ErrnoException
      // EAGAIN: it has not read for so long that the line is full. EPIPE: it is gone.
      this.lost(code === 'EAGAIN' ? NO_ANSWER : (code ?? String(error)))
    }
  }

  /** With the counters in front of it where they have moved since the last beat. */
  #beatWith(counts: readonly (readonly Count[])[]): Uint8Array {
    const line = lineOf({ what: 'counts', counts })
    if (line === this.#counts) return BEAT
    this.#counts = line
    return Buffer.from(`${line}\n`, 'latin1')
  }

  driver(pid: number): void {
    this.#say({ what: 'driver', pid })
  }

  obeyed(): void {
    this.#say({ what: 'obeyed' })
  }

  report(drives: readonly Halted[]): void {
    this.#say({ what: 'drives', drives })
  }

  async end(): Promise<void> {
    if (this.#over) return
    const gone = new Promise<void>((resolve) => {
      this.#onGone = resolve
    })
    this.#say({ what: 'good-bye' })
    this.#over = true
    const forget = later(GONE_WITHIN, () => this.#onGone())
    await gone
    forget()
    this.#socket.destroy()
  }

  /** For the starter: a sign of life. */
  answered(): void {
    this.#answered = this.#request.clock.now()
  }

  /** For the starter. */
  lost(says: string): void {
    this.#onGone()
    if (this.#over) return
    this.#over = true
    this.#request.onLost(`the guardian was lost: ${says}`)
  }

  #say(message: ToGuardian): void {
    if (!this.#over) this.#socket.write(lineOf(message))
  }
}
