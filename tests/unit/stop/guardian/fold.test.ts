/** What the guardian makes of what it hears, in times that the test makes up: time-out 100 ms, a look every 5 ms. */
import { beforeEach, describe, expect, it } from 'vitest'
import { Guard, type GuardDeed, type GuardInput } from '../../../../src/stop/guardian/fold.js'

const MS = 1e6
const START = 1000 * MS

let guard: Guard
let t: number
beforeEach(() => {
  t = START
  guard = new Guard({ timeout: 100 * MS, look: 5 * MS, firstBeat: 60_000 * MS }, t)
})

const see = (kind: GuardInput['kind']): GuardDeed => guard.see({ kind, t })
const nothing: GuardDeed = { do: 'nothing' }

/** Looks every `every` ms for `ms`, a beat before each where `beats`; gives the first deed and when it came, ms from here. */
function look(ms: number, { beats = false, every = 5 } = {}): { at: number; deed: GuardDeed } | null {
  const from = t
  while (t < from + ms * MS) {
    t += every * MS
    if (beats) expect(see('beat')).toEqual(nothing)
    const deed = see('look')
    if (deed.do !== 'nothing') return { at: (t - from) / MS, deed }
  }
  return null
}

describe('beats', () => {
  it('while they come, nothing is done', () => {
    expect(look(5000, { beats: true })).toBeNull()
  })

  it('once they cease it takes over, within the time-out', () => {
    look(500, { beats: true })
    const found = look(1000)
    expect(found?.deed).toMatchObject({ do: 'take over', cause: 'silent' })
    expect(found!.at).toBeLessThanOrEqual(100)
    expect(found!.at).toBeGreaterThan(85)
  })

  it('85 ms without one are borne, again and again', () => {
    see('beat')
    for (let i = 0; i < 50; i++) {
      expect(look(85)).toBeNull()
      see('beat')
    }
  })

  it('a guardian that was late itself reads what waits before it believes anything', () => {
    see('beat')
    t += 400 * MS
    expect(see('look')).toEqual(nothing)
    see('beat')
    expect(look(85)).toBeNull()
  })

  it('a late guardian that then reads nothing takes over at the next look', () => {
    see('beat')
    t += 400 * MS
    expect(see('look')).toEqual(nothing)
    t += 5 * MS
    expect(see('look')).toEqual({ do: 'take over', cause: 'silent', unheard: 405 * MS })
  })

  it('it takes over once', () => {
    see('beat')
    expect(look(1000)?.deed.do).toBe('take over')
    expect(look(1000)).toBeNull()
    expect(see('closed')).toEqual(nothing)
    expect(see('asked')).toEqual(nothing)
  })
})

describe('the start', () => {
  it('may last: no beat is due before the first', () => {
    expect(look(59_000, { every: 100 })).toBeNull()
    expect(look(5000, { beats: true })).toBeNull()
  })

  it('is over at the first beat', () => {
    look(30_000, { every: 100 })
    see('beat')
    expect(look(1000)?.deed).toMatchObject({ cause: 'silent' })
  })

  it('does not last for ever', () => {
    const found = look(120_000, { every: 100 })
    expect(found?.deed).toMatchObject({ do: 'take over', cause: 'never ticked' })
    expect(found!.at).toBeLessThanOrEqual(60_300)
  })
})

describe('the end of the line', () => {
  it('without a good-bye it takes over at once', () => {
    look(100, { beats: true })
    t += 2 * MS
    expect(see('closed')).toEqual({ do: 'take over', cause: 'gone', unheard: 2 * MS })
  })

  it('before the first beat too: drives may be enabled from an earlier run', () => {
    expect(see('closed')).toMatchObject({ do: 'take over', cause: 'gone' })
  })

  it('after a good-bye nothing is left to do', () => {
    look(100, { beats: true })
    expect(see('good-bye')).toEqual({ do: 'leave' })
    expect(see('closed')).toEqual(nothing)
    expect(look(1000)).toBeNull()
  })
})

describe('a stop from another terminal', () => {
  it('is passed on, once', () => {
    look(100, { beats: true })
    expect(see('asked')).toEqual({ do: 'pass on' })
    expect(see('asked')).toEqual(nothing)
  })

  it('that is obeyed leaves the bench process to it, which is watched on', () => {
    look(100, { beats: true })
    see('asked')
    look(50, { beats: true })
    see('obeyed')
    expect(look(5000, { beats: true })).toBeNull()
    expect(see('asked')).toEqual(nothing)
    expect(look(1000)?.deed).toMatchObject({ cause: 'silent' })
  })

  it('that is not obeyed makes it take over within the time-out, although beats come', () => {
    look(100, { beats: true })
    see('asked')
    const found = look(1000, { beats: true })
    expect(found?.deed).toMatchObject({ do: 'take over', cause: 'disobedient' })
    expect(found!.at).toBeLessThanOrEqual(100)
  })

  it('before the first tick it must be obeyed too', () => {
    see('asked')
    expect(look(1000)?.deed).toMatchObject({ cause: 'disobedient' })
  })

  it('obedience that nobody asked for is no leave to disobey later', () => {
    look(100, { beats: true })
    see('obeyed')
    see('asked')
    expect(look(1000, { beats: true })?.deed).toMatchObject({ cause: 'disobedient' })
  })
})
