/**
 * The parent's side of a real-time run: starts the bench process, writes down what it sends, judges the recording when it is
 * over. Whatever happens here, however slow it is, the loop goes on without it.
 */
import { type ChildProcess, spawn } from 'node:child_process'
import type { Socket } from 'node:net'
import { resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { DrystrokeError, isErrorCode } from '../../errors.js'
import { resolvedRigText, resolvedScenarioText } from '../../files/resolved-text.js'
import { recordingFolder } from '../../record/folder.js'
import { provenanceNow } from '../../record/provenance.js'
import { RecordingFiles } from '../../record/write.js'
import { writeReports } from '../../report/write.js'
import { stopMark } from '../../stop/mark.js'
import { judgeRecording } from '../../verdict/judge-recording.js'
import { watchSchemas } from '../../watch/settings.js'
import type { PlayRequest, PlayResult } from '../play.js'
import { guardianAccount } from './guardian-account.js'
import {
  encodeMessage,
  type Message,
  MessageReader,
  type Order,
  type Problem,
  type Report,
} from './message.js'

/** Bytes of records that may wait to be written: minutes of two full buses. */
const BACKLOG = 64e6
/** ms between two words to the bench process on how much is written. */
const TOLD_EVERY = 100
/** ms until the bench process must be ready. */
const READY_WITHIN = 60_000

const MAIN = fileURLToPath(new URL('./main.js', import.meta.url))
/** Helper threads of V8's would stay at normal priority and hold up a loop that has a higher one. */
const FLAGS = ['--single-threaded-gc', '--expose-gc']

export interface RealtimeRequest extends PlayRequest {
  /** Socket of the stand-in that the arms are; left out: simulated here on mock buses, real elsewhere. */
  readonly standIn?: string | undefined
  /** Bytes of records that may wait to be written; beyond it they are dropped and counted. */
  readonly backlog?: number
  /** What `stopMark` gave before a person let the arms move; left out: now. */
  readonly stopMark?: string
}

/**
 * @throws DrystrokeError `file-access` when the recording cannot be written, `usage` when its buses are mixed; errors of the
 *   bench process as they are
 */
export async function playRealTime(request: RealtimeRequest): Promise<PlayResult> {
  const folder = recordingFolder(request.outDir, request.scenario.name)
  const texts = {
    rigText: resolvedRigText(request.rigText, watchSchemas),
    scenarioText: resolvedScenarioText(request.scenarioText),
  }
  const { rig, rigFile, scenarioFile, seed, backlog = BACKLOG } = request
  const standIn = request.standIn ?? null
  const simulated = rig.buses.every((b) => b.address.kind === 'mock')
  const arms = simulated ? 'simulated' : standIn === null ? 'real' : 'stand-in'
  const mark = request.stopMark ?? stopMark(rig)
  const process = new BenchProcess({
    create: () =>
      RecordingFiles.create(folder, {
        ...texts,
        provenance: provenanceNow({ rigFile, scenarioFile, arms }),
      }),
    onProgress: request.onProgress,
  })
  try {
    process.order({
      kind: 'job',
      job: { ...texts, rigFile, scenarioFile, seed, standIn, backlog, stopMark: mark },
    })
    request.interrupt?.onAsk((stop) => process.order({ kind: 'stop', stop }))
    await process.over
    const guardian = process.leftTo
    if (guardian !== null) {
      request.onProgress?.(null, 'the guardian stops the arms')
      await guardianAccount(folder, rig, guardian)
    }
  } finally {
    request.interrupt?.onAsk(null)
    process.leave()
  }
  const judged = judgeRecording(folder)
  writeReports(folder, judged)
  return { verdict: judged.judgement.verdict, folder }
}

class BenchProcess {
  /** Resolves when the arms are at rest and the recording is closed; rejects with what went wrong. */
  readonly over: Promise<void>
  readonly #child: ChildProcess
  readonly #socket: Socket
  #files: RecordingFiles | null = null
  /** The first that was in the way of the recording. */
  #unwritten: unknown = null
  #frames = 0
  #events = 0
  #told = 0
  #problem: Problem | null = null
  #ended = false
  #guardian: number | null = null

  constructor(given: {
    readonly create: () => RecordingFiles
    readonly onProgress: PlayRequest['onProgress']
  }) {
    this.#child = spawn(process.execPath, [...FLAGS, MAIN], {
      stdio: ['ignore', 'ignore', 'inherit', 'pipe'],
    })
    this.#socket = this.#child.stdio[3] as Socket
    const reader = new MessageReader<Report>((message) => this.#hear(message, given))
    const patience = setTimeout(() => this.#child.kill('SIGKILL'), READY_WITHIN)
    const telling = setInterval(() => this.#tellWritten(), TOLD_EVERY)
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
    {
      create,
      onProgress,
    }: { readonly create: () => RecordingFiles; readonly onProgress: PlayRequest['onProgress'] },
  ): void {
    switch (message.kind) {
      case 'ready':
        this.#files = create()
        this.order({ kind: 'go', folder: resolve(this.#files.folder) })
        return
      case 'records':
        this.#write(message.frames, message.events)
        return
      case 'progress':
        onProgress?.(message.scenarioTime, message.stage)
        return
      case 'guarded':
        this.#guardian = message.pid
        return
      case 'ended':
        this.#ended = true
        this.#problem = message.problem
        this.#tellWritten()
        return
    }
  }

  #write(frames: Uint8Array, events: Uint8Array): void {
    this.#frames += frames.length
    this.#events += events.length
    if (this.#unwritten !== null) return
    try {
      this.#files!.append(frames, events)
    } catch (error) {
      this.#unwritten = error
      this.order({ kind: 'unwritten', says: error instanceof Error ? error.message : String(error) })
    }
  }

  /** What cannot be written is out of the bench process's hands as well. */
  #tellWritten(): void {
    if (this.#told === this.#frames + this.#events) return
    this.#told = this.#frames + this.#events
    this.order({ kind: 'written', length: { frames: this.#frames, events: this.#events } })
  }

  #settle(): void {
    this.#files?.close()
    if (this.#unwritten !== null) throw this.#unwritten
    if (this.#problem) throw thrown(this.#problem)
    if (this.#files) return
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
