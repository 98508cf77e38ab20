/** A candump log as frames of a rig's buses: what a witness that is none of ours saw of a run. */
import { readFileSync } from 'node:fs'
import type { Nanos } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { BusSettings } from '../files/rig.js'
import { readCandump } from '../wire/candump.js'
import type { Frame } from '../wire/frame.js'

export interface LoggedFrame {
  /** Index of the rig's bus. */
  readonly bus: number
  readonly frame: Frame
  /** Since the whole second `origin` of the log's clock. */
  readonly t: Nanos
}

export interface FrameLog {
  readonly file: string
  /** In order of time; frames of one bus in the order of the log. */
  readonly frames: readonly LoggedFrame[]
  /** s of the log's clock, such as a Unix time. */
  readonly origin: number
  /** Frames of interfaces that are no bus of the rig. */
  readonly elsewhere: number
}

/** How far a time may lie before that of an earlier line of the same interface. A clock that was set jumps further. */
const DISORDER: Nanos = 10e6

/**
 * A log names a bus by the rig's name of it or by the interface of its address.
 * @throws DrystrokeError `file-access`; `file-invalid` also when no frame is of a bus of the rig, or the clock was set
 */
export function readFrameLog(file: string, buses: readonly BusSettings[]): FrameLog {
  const text = textOf(file)
  const records = readCandump(text, { file, origin: 'first frame' })
  const names = new Map<string, number>()
  for (const { index, address } of buses) {
    if (address.kind === 'socketcan') names.set(address.interface, index)
  }
  for (const { index, name } of buses) names.set(name, index)

  const frames: LoggedFrame[] = []
  let elsewhere = 0
  // By interface: candump reads one after the other, and a busy machine keeps it from one for long.
  const latest = new Map<string, Nanos>()
  for (const r of records) {
    const before = latest.get(r.bus) ?? r.t
    if (r.t < before - DISORDER) throw clockWasSet(file, before - r.t)
    latest.set(r.bus, Math.max(before, r.t))
    const bus = names.get(r.bus)
    if (bus === undefined) elsewhere++
    else if (r.what === 'frame') frames.push({ bus, frame: r.frame, t: r.t })
  }
  if (frames.length === 0) {
    const found = [...new Set(records.map((r) => r.bus))]
    throw new DrystrokeError(
      'file-invalid',
      `${file}: found ${found.length === 0 ? 'no frame' : `frames of ${found.join(', ')} only`}; expected frames of the rig's ` +
        `buses, by their name or interface: ${[...names.keys()].join(', ')}`,
      { file },
    )
  }
  const [, origin = '0'] = /^\s*\((\d+)\./.exec(text) ?? []
  return { file, frames: frames.sort((a, b) => a.t - b.t), origin: Number(origin), elsewhere }
}

function textOf(file: string): string {
  try {
    return readFileSync(file, 'utf8')
  } catch (cause) {
    throw new DrystrokeError(
      'file-access',
      `${file} cannot be read: ${(cause as Error).message}. Expected a log that candump -L wrote; one above 500 MB must be cut first.`,
      { file },
      cause,
    )
  }
}

function clockWasSet(file: string, by: Nanos): DrystrokeError {
  return new DrystrokeError(
    'file-invalid',
    `${file}: a line is ${(by / 1e9).toFixed(3)} s earlier than one before it; expected times that rise: the clock was set ` +
      'while the log was written, or two logs stand in one file. Use one log of one run.',
    { file },
  )
}
