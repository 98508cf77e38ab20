/**
 * The bench process of a real-time run: started by `play.ts`, which is at the other end of descriptor 3. It owns buses, loop,
 * watches and stop, and does nothing else. When its parent is lost it stops the arms, writes the rest of the recording
 * itself, and its verdict.
 */
import { Socket } from 'node:net'
import { DrystrokeError } from '../../errors.js'
import type { OutsideStop } from '../../files/event.js'
import { writeReports } from '../../report/write.js'
import { judgeRecording } from '../../verdict/judge-recording.js'
import { encodeMessage, MessageReader, type Order, type Problem, type Report } from './message.js'
import { RealtimeRun } from './run.js'
import { STOP_SIGNALS } from './signals.js'

let run: RealtimeRun | null = null
/** It, while its buses and driver are not all open. */
let prepared: RealtimeRun | null = null
/** Of the recording, null: the run has not begun. */
let folder: string | null = null
let ended = false
let parentLost = false
/** Nothing is left that could be written down. */
let givenUp = false
/** Asked for before there was a run. */
let early: OutsideStop | null = null

const socket = new Socket({ fd: 3, readable: true, writable: true })
const tell = (report: Report): void => {
  if (!parentLost) socket.write(encodeMessage(report))
}
const send = (message: Uint8Array): void => {
  if (!parentLost) socket.write(message)
}

const stop = (asked: OutsideStop): void => {
  early ??= asked
  run?.onStop(asked)
}
// A key on the terminal reaches the whole group of processes: the first who tells is heard, the others say the same.
for (const name of STOP_SIGNALS)
  process.on(name, () => stop({ source: 'signal', says: `${name} was received` }))

process.on('uncaughtException', (error) => {
  if (folder !== null && !ended) run?.onDefect(error)
  else giveUp(error)
})

const reader = new MessageReader<Order>((order) => {
  if (order.kind === 'job') void prepare(order)
  else if (order.kind === 'go') void begin(order.folder)
  else if (order.kind === 'written') {
    run?.onWritten(order.length)
    leaveWhenWritten()
  } else if (order.kind === 'stop') stop(order.stop)
  else if (order.kind === 'unwritten') run?.onUnwritten(order.says)
  else if (order.kind === 'held') run?.onHeld()
  else if (order.kind !== 'records') run?.onJog(order)
})
socket.on('data', (bytes) => reader.take(bytes))
socket.on('error', onParentLost)
socket.on('close', onParentLost)

async function prepare({ job }: Extract<Order, { kind: 'job' }>): Promise<void> {
  try {
    prepared = new RealtimeRun(job, send)
    await prepared.prepare()
    run = prepared
    tell({ kind: 'ready' })
  } catch (error) {
    giveUp(error)
  }
}

async function begin(recording: string): Promise<void> {
  folder = recording
  if (early) run!.onStop(early)
  try {
    await run!.begin(recording, onEnded)
  } catch (error) {
    giveUp(error)
  }
}

function onEnded(): void {
  ended = true
  const { failure } = run!
  tell({ kind: 'ended', problem: failure ? problemOf(failure.error) : null })
  if (parentLost) finish()
  else leaveWhenWritten()
}

/** Until then the records are nowhere but here; if the parent goes meanwhile they are written here. */
function leaveWhenWritten(): void {
  if (ended && run!.allWritten) socket.end()
}

function onParentLost(): void {
  if (parentLost) return
  parentLost = true
  if (run === null || folder === null || givenUp || (ended && run.allWritten)) {
    // Nothing has moved, or all is said and done.
    process.exit()
  }
  try {
    run.onParentLost(folder)
  } catch (error) {
    run.onDefect(error)
  }
  if (ended) finish()
}

/** What the parent would have done. */
function finish(): void {
  try {
    run!.close()
    const judged = judgeRecording(folder!)
    writeReports(folder!, judged)
    process.exit()
  } catch (error) {
    giveUp(error)
  }
}

/** Nothing moves, or nothing can be done about it any more. */
function giveUp(error: unknown): void {
  ended = givenUp = true
  prepared?.abandon()
  if (parentLost) {
    process.stderr.write(`${error instanceof Error ? error.stack : String(error)}\n`)
    process.exit(1)
  }
  tell({ kind: 'ended', problem: problemOf(error) })
  socket.end()
}

function problemOf(error: unknown): Problem {
  if (error instanceof DrystrokeError) {
    const { code, message, context } = error
    return { code, message, context }
  }
  return {
    code: null,
    message: error instanceof Error ? (error.stack ?? error.message) : String(error),
    context: {},
  }
}
