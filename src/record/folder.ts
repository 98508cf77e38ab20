/** The recording folder: names of its files, a free name for a new one, and files that are whole or not there. */
import {
  closeSync,
  existsSync,
  fsyncSync,
  mkdirSync,
  openSync,
  renameSync,
  statSync,
  writeSync,
} from 'node:fs'
import { dirname, join } from 'node:path'
import { DrystrokeError } from '../errors.js'

export const RECORDING_FILES = {
  frames: 'frames.pcapng',
  events: 'events.jsonl',
  rig: 'rig.yaml',
  scenario: 'scenario.yaml',
  provenance: 'provenance.json',
  verdict: 'verdict.json',
  junit: 'junit.xml',
  report: 'report.html',
} as const

/** A free folder name under `outDir`: the scenario's name, else with -2, -3 ... behind it. Nothing is made. */
export function recordingFolder(outDir: string, scenarioName: string): string {
  // A name comes from a file: it must not lead out of `outDir`.
  const plain = scenarioName.replace(/[^\p{L}\p{N}_-]+/gu, '-').replace(/^-+|-+$/g, '') || 'run'
  for (let n = 1; ; n++) {
    const folder = join(outDir, n === 1 ? plain : `${plain}-${n}`)
    if (!existsSync(folder)) return folder
  }
}

/** False also where there is nothing, or where the way there leads through a file. */
export function isFile(path: string): boolean {
  try {
    return statSync(path).isFile()
  } catch {
    return false
  }
}

/** Makes the folder (and those above it). @throws DrystrokeError `file-access` when it is already there: recordings are never written over */
export function makeFolder(folder: string): void {
  try {
    makeAbove(folder)
    mkdirSync(folder)
  } catch (cause) {
    const there = (cause as NodeJS.ErrnoException).code === 'EEXIST'
    const reason = there
      ? 'it is already there, and a recording is never written over'
      : (cause as Error).message
    throw new DrystrokeError(
      'file-access',
      `The recording folder ${folder} cannot be made: ${reason}. Choose another folder or move this one away.`,
      { file: folder },
      cause,
    )
  }
}

/** Makes the folders above a path, one by one: Node's own recursive way never returns where a file system refuses with ENOENT, as /proc does. */
export function makeAbove(folder: string): void {
  const above = dirname(folder)
  const found = statSync(above, { throwIfNoEntry: false })
  if (found?.isDirectory()) return
  if (found) throw new Error(`${above} is a file, not a folder`)
  makeAbove(above)
  try {
    mkdirSync(above)
  } catch (cause) {
    // Another run may have made it in between.
    if ((cause as NodeJS.ErrnoException).code !== 'EEXIST') throw cause
  }
}

/**
 * Writes a file under a temporary name and renames it, so that a half-written one never looks complete.
 * @throws DrystrokeError `file-access`
 */
export function writeWhole(path: string, text: string): void {
  const part = `${path}.part`
  try {
    const descriptor = openSync(part, 'w')
    try {
      const bytes = Buffer.from(text, 'utf8')
      for (let done = 0; done < bytes.length; ) done += writeSync(descriptor, bytes, done)
      // Without this a power failure may keep the new name and lose what it names.
      fsyncSync(descriptor)
    } finally {
      closeSync(descriptor)
    }
    renameSync(part, path)
  } catch (cause) {
    throw new DrystrokeError(
      'file-access',
      `${path} cannot be written: ${(cause as Error).message}. Check that the disk has room and that the folder may be written to.`,
      { file: path },
      cause,
    )
  }
}
