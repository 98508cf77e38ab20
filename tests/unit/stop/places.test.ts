/** Where guardians and those who want a stop find each other: whose folders, and under which names of a bus. */
import { chmodSync, existsSync, mkdirSync, statSync, symlinkSync, writeFileSync } from 'node:fs'
import { basename, join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { parseBusAddress } from '../../../src/files/bus-address.js'
import { busNames, foldersIn, ownFolder, type Places, placesHere } from '../../../src/stop/places.js'
import { temporaryFolder } from '../../setup/runs.js'

const uid = process.getuid!()
const folder = temporaryFolder()
let count = 0
let root: string
let places: Places
beforeEach(() => {
  root = join(folder, `${count++}`)
  mkdirSync(root)
  places = { roots: [root], uid, trusted: [uid] }
})

const names = (text: string): string[] => busNames(parseBusAddress(text)!)

describe('a folder of our own', () => {
  it('can be entered by all and written by us alone, whatever the umask, and is the same the next time', () => {
    const before = process.umask(0o077)
    try {
      const own = ownFolder(places)
      expect(statSync(own).mode & 0o777).toBe(0o755)
      expect(ownFolder(places)).toBe(own)
      expect(foldersIn(places)).toEqual([{ path: own, uid }])
    } finally {
      process.umask(before)
    }
  })

  it.each([
    ['a file', (path: string) => writeFileSync(path, '')],
    [
      'a folder that others can write to',
      (path: string) => {
        mkdirSync(path)
        chmodSync(path, 0o777)
      },
    ],
    [
      'a link to a folder elsewhere',
      (path: string) => {
        mkdirSync(join(root, 'elsewhere'))
        symlinkSync(join(root, 'elsewhere'), path)
      },
    ],
  ])('has another name where %s stands under ours, and is found all the same', (_, put) => {
    const taken = join(root, `drystroke-stop-${uid}`)
    put(taken)
    const own = ownFolder(places)
    expect(own).not.toBe(taken)
    expect(basename(own)).toMatch(new RegExp(`^drystroke-stop-${uid}-`))
    expect(statSync(own).mode & 0o777).toBe(0o755)
    expect(foldersIn(places)).toEqual([{ path: own, uid }])
    expect(ownFolder(places)).toBe(own)
  })

  it('is made in the next place when others could take it away from the first', () => {
    const next = join(root, 'next')
    mkdirSync(next)
    chmodSync(root, 0o777)
    expect(ownFolder({ ...places, roots: [root, next] })).toBe(join(next, `drystroke-stop-${uid}`))
    chmodSync(root, 0o1777)
    expect(ownFolder({ ...places, roots: [root, next] })).toBe(join(root, `drystroke-stop-${uid}`))
  })

  it('that can be made nowhere is refused with what to do', () => {
    chmodSync(root, 0o777)
    const missing = join(root, 'missing')
    expect(() => ownFolder({ ...places, roots: [root, missing] })).toThrow(
      /can be tampered with by others; ENOENT.*expected one of .* permissions 1777/,
    )
  })
})

describe('the environment', () => {
  const { SUDO_UID, XDG_RUNTIME_DIR, TMPDIR } = process.env
  afterEach(() => {
    for (const [name, value] of Object.entries({ SUDO_UID, XDG_RUNTIME_DIR, TMPDIR })) {
      if (value === undefined) delete process.env[name]
      else process.env[name] = value
    }
  })

  it('has no part in where it is', () => {
    const before = placesHere().roots
    process.env.XDG_RUNTIME_DIR = root
    process.env.TMPDIR = root
    expect(placesHere().roots).toEqual(before)
    expect(existsSync(before[0]!)).toBe(true)
  })

  it('says under sudo whose guardians are believed besides those of root, and to nobody else', () => {
    process.env.SUDO_UID = '4711'
    expect(placesHere().trusted).toEqual(uid === 0 ? [0, 4711] : [0, uid])
    delete process.env.SUDO_UID
    expect(placesHere().trusted).toEqual([0, uid])
  })
})

describe('names of a bus', () => {
  it('are those of its address alone', () => {
    expect(names('socketcan:can0')).toEqual(names('socketcan:can0'))
    expect(names('socketcan:can0')).not.toEqual(names('socketcan:can1'))
    expect(names('mock')).toEqual([])
  })

  it('of this machine itself are the same in every spelling', () => {
    const one = names('slcan:tcp:127.0.0.1:7001')
    expect(names('slcan:tcp:localhost:7001')).toEqual(one)
    expect(names('slcan:tcp:[::1]:7001')).toEqual(one)
    expect(names('slcan:tcp:127.0.0.1:7002')).not.toEqual(one)
    expect(names('slcan:tcp:ARMS.example:7001')).toEqual(names('slcan:tcp:arms.example:7001'))
  })

  it('of a device are one for each way to call it', () => {
    const [device, link] = [join(root, 'ttyACM0'), join(root, 'by-id')]
    writeFileSync(device, '')
    symlinkSync(device, link)
    const direct = names(`slcan:${device}`)
    expect(direct).toHaveLength(1)
    expect(names(`slcan:${link}`)).toEqual(expect.arrayContaining(direct))
    expect(names(`slcan:${link}`)).toHaveLength(2)
  })
})
