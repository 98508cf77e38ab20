/**
 * That somebody wanted the arms of a rig stopped, left behind for runs that no guardian watches yet: between two scenarios, or
 * while one starts up. Whoever begins a run looks at the marks before a person is asked, and again once its guardian listens; a
 * mark that has come meanwhile, whoever left it, is a stop that nobody else would hear of.
 *
 * A mark is an empty file in a folder of whoever leaves it (places.ts), with the name of a bus and a token that is never used
 * again: only whether there is a new one counts, so that an old one may be removed at any time.
 */
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Rig } from '../files/rig.js'
import { ageOf, remove } from './guardian/meeting-place.js'
import { foldersIn, namesIn, newToken, ownFolder, type Places, placesHere, rigNames } from './places.js'

const MARK = /^([0-9a-f]{16})\.[0-9a-f-]+\.stop$/
/** s. No run waits so long between its first look and its last. */
const STALE = 86_400

/** Those of all buses of a rig that are there now; for `markedSince`. */
export function stopMark(rig: Pick<Rig, 'buses'>, places: Pick<Places, 'roots'> = placesHere()): string {
  return marksOf(rig, places).join('\n')
}

/** Somebody has left a mark since. @param before what `stopMark` gave then */
export function markedSince(
  rig: Pick<Rig, 'buses'>,
  before: string,
  places: Pick<Places, 'roots'> = placesHere(),
): boolean {
  const known = new Set(before.split('\n'))
  return marksOf(rig, places).some((name) => !known.has(name))
}

/** @throws when it cannot be left: the stop itself must go on all the same */
export function leaveStopMark(rig: Pick<Rig, 'buses'>, places: Places = placesHere()): void {
  const folder = ownFolder(places)
  const token = newToken()
  for (const bus of rigNames(rig)) writeFileSync(join(folder, `${bus}.${token}.stop`), '', { flag: 'wx' })
}

/** Removes those in a folder of ours that no run can be waiting for any more. */
export function tidyMarks(folder: string): void {
  for (const name of namesIn(folder)) {
    const path = join(folder, name)
    if (MARK.test(name) && ageOf(path) > STALE) remove(path)
  }
}

function marksOf(rig: Pick<Rig, 'buses'>, places: Pick<Places, 'roots'>): string[] {
  const wanted = rigNames(rig)
  return foldersIn(places)
    .flatMap(({ path }) => namesIn(path))
    .filter((name) => wanted.has(MARK.exec(name)?.[1] ?? ''))
}
