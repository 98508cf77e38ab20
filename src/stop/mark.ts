/**
 * That somebody wanted the arms of a rig stopped, left behind for runs that no guardian watches yet: between two scenarios, or
 * while one starts up. Whoever begins a run reads the mark before a person is asked, and again once its guardian listens; a
 * mark that has changed meanwhile is a stop that nobody else would hear of.
 */
import { readFileSync, renameSync, writeFileSync } from 'node:fs'
import { RealTime } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { meetingPlace } from './guardian/meeting-place.js'

/** The mark as it is now, empty: none. @throws DrystrokeError `guardian` when the folder is not safe */
export function stopMark(rig: Pick<Rig, 'name' | 'buses'>): string {
  try {
    return readFileSync(markFile(rig), 'utf8')
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return ''
    throw error
  }
}

/** Another mark than any before. @throws when it cannot be left: the stop itself must go on all the same */
export function leaveStopMark(rig: Pick<Rig, 'name' | 'buses'>): void {
  const file = markFile(rig)
  const draft = `${file}.${process.pid}`
  writeFileSync(draft, `${new RealTime().base.join(' ')} ${process.pid}`, { mode: 0o600 })
  renameSync(draft, file)
}

function markFile(rig: Pick<Rig, 'name' | 'buses'>): string {
  return meetingPlace(rig).replace(/sock$/, 'stop')
}
