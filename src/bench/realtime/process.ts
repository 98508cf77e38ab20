/** The bench process as its parent has it: started, told, heard, and what it records written down. */
import { type ChildProcess, spawn } from 'node:child_process'
import type { Socket } from 'node:net'
import { resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { DrystrokeError, isErrorCode } from '../../errors.js'
import type { RecordingFiles } from '../../record/write.js'
import type { PlayRequest } from '../play.js'
import { Keeper } from './keeper.js'
import {
  type ArmsSeen,
  encodeMessage,
  type Message,
  MessageReader,
  type Order,
  type Problem,
  type Report,
} from './message.js'

/** ms between two words to the bench process on how much is written. */
const TOLD_EVERY = 100
/** ms until the bench process must be ready. */
const READY_WITHIN = 60_000

const MAIN = fileURLToPath(new URL('./main.js', import.meta.url))
/** Helper threads of V8's would stay at normal priority and hold up a loop that has a higher one. */
export const FLAGS = ['--single-threaded-gc']

export class BenchProcess {
  /** Resolves when the arms are at rest and the recording is closed; rejects with what went wrong. */
  readonly over: Promise<void>
  readonly #child: ChildProcess
  readonly #socket: Socket
  #keeper: Keeper | null = null
  #problem: Problem | null = null
  #ended = false
  #guardian: number | null = null

  constructor(given: {
    readonly create: () => RecordingFiles
    readonly onProgress?: PlayRequest['onProgress']
    readonly onArms?: (arms: ArmsSeen) => void
    readonly onSaid?: PlayRequest['onSaid']
  }) {
    this.#child = spawn(process.execPath, [...FLAGS, MAIN], {
      stdio: ['ignore', 'ignore', 'inherit', 'pipe'],
    })
    this.#socket = this.#child.stdio[3] as Socket
    const reader = new MessageReader<Report>((message) => this.#hear(message, given))
    const patience = setTimeout(() => this.#child.kill('SIGKILL'), READY_WITHIN)
    const telling = setInterval(() => this.#keeper?.tell(), TOLD_EVERY)
    this.over = new Promise((done, fail) => {
      const settle = (): void => {
        clearTimeout(patience)
        clearInterval(telling)
        try {
          this.#settle()
          done()
        } catch (error) {
          fail(error)
        }
      }
      this.#socket.on('data', (bytes) => {
        clearTimeout(patience)
        try {
          reader.take(bytes)
        } catch (error) {
          // Without this line the bench process takes its parent for lost: it stops, and writes down what is left.
          this.#socket.destroy()
          fail(error)
        }
      })
      // It may have died with the line half read: what counts is that it is gone, and all that it said was heard.
      this.#socket.on('error', () => this.#socket.destroy())
      let [lineClosed, gone] = [false, false]
      this.#socket.on('close', () => {
        lineClosed = true
        if (gone) settle()
      })
      this.#child.on('error', fail)
      this.#child.on('exit', () => {
        gone = true
        if (lineClosed) settle()
      })
    })
  }

  order(order: Order): void {
    if (this.#socket.writable) this.#socket.write(encodeMessage(order))
  }

  /** The guardian that stops the arms, because the bench process died in the run; null: it ended in good order. */
  get leftTo(): number | null {
    return this.#ended ? null : this.#guardian
  }

  leave(): void {
    this.#socket.destroy()
  }

  #hear(
    message: Message<Report>,
    { create, onProgress, onArms, onSaid }: ConstructorParameters<typeof BenchProcess>[0],
  ): void {
    switch (message.kind) {
      case 'ready': {
        const files = create()
        this.#keeper = new Keeper(files, (order) => this.order(order))
        this.order({ kind: 'go', folder: resolve(files.folder) })
        return
      }
      case 'records':
        this.#keeper!.write(message.frames, message.events)
        return
      case 'progress':
        onProgress?.(message.scenarioTime, message.stage)
        return
      case 'arms':
        onArms?.(message.arms)
        return
      case 'said':
        onSaid?.(message.says)
        return
      case 'guarded':
        this.#guardian = message.pid
        return
      case 'ended':
        this.#ended = true
        this.#problem = message.problem
        this.#keeper?.tell()
        return
    }
  }

  #settle(): void {
    this.#keeper?.close(this.#problem !== null)
    if (this.#problem) throw thrown(this.#problem)
    if (this.#keeper) return
    const { exitCode, signalCode } = this.#child
    throw new DrystrokeError(
      'defect',
      `The bench process ended before it began: ${signalCode ?? `status ${exitCode}`}`,
    )
  }
}

function thrown({ code, message, context }: Problem): Error {
  if (code !== null && isErrorCode(code)) return new DrystrokeError(code, message, context)
  return new Error(`In the bench process: ${message}`)
}
