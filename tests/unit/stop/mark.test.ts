/** That somebody wanted a stop, for those who begin a run: only what comes between two looks counts. */
import { mkdirSync, readdirSync, utimesSync } from 'node:fs'
import { join } from 'node:path'
import { beforeEach, describe, expect, it } from 'vitest'
import { leaveStopMark, markedSince, stopMark, tidyMarks } from '../../../src/stop/mark.js'
import { ownFolder, type Places } from '../../../src/stop/places.js'
import { rigOnBuses as rig } from '../../setup/buses.js'
import { temporaryFolder } from '../../setup/runs.js'

const uid = process.getuid!()
const folder = temporaryFolder()
let count = 0
let places: Places
beforeEach(() => {
  const roots = ['one', 'two'].map((name) => join(folder, `${count}`, name))
  for (const root of roots) mkdirSync(root, { recursive: true })
  count++
  places = { roots, uid, trusted: [0, uid] }
})

describe('a mark', () => {
  it('that comes after the first look is seen by every rig that shares a bus, and by no other', () => {
    const [mine, shared, apart] = [
      rig('socketcan:can0', 'socketcan:can1'),
      rig('socketcan:can1'),
      rig('socketcan:can2'),
    ]
    const before = [mine, shared, apart].map((r) => stopMark(r, places))
    leaveStopMark(mine, places)
    expect(markedSince(mine, before[0]!, places)).toBe(true)
    expect(markedSince(shared, before[1]!, places)).toBe(true)
    expect(markedSince(apart, before[2]!, places)).toBe(false)
  })

  it('that was there at the first look is no stop, and neither is one that has gone since', () => {
    const can0 = rig('socketcan:can0')
    leaveStopMark(can0, places)
    const before = stopMark(can0, places)
    expect(markedSince(can0, before, places)).toBe(false)
    const own = ownFolder(places)
    for (const name of readdirSync(own)) utimesSync(join(own, name), 1e9, 1e9)
    tidyMarks(own)
    expect(readdirSync(own)).toEqual([])
    expect(markedSince(can0, before, places)).toBe(false)
    leaveStopMark(can0, places)
    expect(markedSince(can0, before, places)).toBe(true)
  })

  it('in any folder of anybody counts', () => {
    const can0 = rig('socketcan:can0')
    const before = stopMark(can0, places)
    leaveStopMark(can0, { ...places, roots: [places.roots[1]!] })
    expect(markedSince(can0, before, places)).toBe(true)
  })

  it('younger than a day stays when others are removed', () => {
    const can0 = rig('socketcan:can0')
    leaveStopMark(can0, places)
    const own = ownFolder(places)
    tidyMarks(own)
    expect(readdirSync(own)).toHaveLength(1)
  })
})
