/** How the power went, from looks at the arms that are written out here: 1 ms a period, so silence is 10 ms. */
import { describe, expect, it } from 'vitest'
import { type ArmsLookedAt, PowerLossFold } from '../../../src/ready/power-loss.js'

const MS = 1e6
const JOINTS = [{ name: 'elbow' }, { name: 'roll' }]

/** Times in ms, positions in rad; two joints that have power, speak, and have been at rest for long. */
function look(t: number, changes: Partial<ArmsLookedAt> = {}): ArmsLookedAt {
  const at = (times: readonly (number | null)[]) => times.map((x) => x && x * MS)
  const { seen = [t, t], off = [null, null], rest = [-1, -1], positions = [1, 2] } = changes
  return { t: t * MS, positions, seen: at(seen), off: at(off), rest: at(rest) }
}

function told(...looks: ArmsLookedAt[]) {
  const fold = new PowerLossFold(JOINTS, 0.001, look(1000))
  for (const one of looks) fold.see(one)
  return { lost: fold.lost, ...fold.result() }
}

describe('the power of all drives', () => {
  it('is there, as long as nothing shows that it went', () => {
    expect(told(look(1020), look(1040))).toEqual({
      ...{ lost: 0, still: ['elbow', 'roll'], spread: null, toRest: null },
      ...{ unseen: [], moving: [], travel: 0 },
    })
  })

  it('went where the drive says so: the spread is from the first to the last; arms that stay are at rest at once', () => {
    expect(told(look(1100, { off: [1090, null] }), look(1120, { off: [1090, 1117] }))).toMatchObject({
      ...{ lost: 2, still: [], spread: 0.027, toRest: 0, unseen: [], moving: [], travel: 0 },
    })
  })

  it('went where feedback ended: at its last, and then nothing shows when that joint was at rest', () => {
    const silent = told(look(1100, { seen: [1089.9, 1100] }), look(1120, { seen: [1089.9, 1109.9] }))
    expect(silent).toMatchObject({ lost: 2, still: [], toRest: null, unseen: ['elbow', 'roll'] })
    expect(silent.spread).toBeCloseTo(0.02, 9)
    // Of a joint that fell silent while it moved nobody knows that it still does.
    const moving = look(1120, { seen: [1089.9, 1120], off: [null, 1100], rest: [null, -1] })
    expect(told(moving)).toMatchObject({ toRest: null, unseen: ['elbow'], moving: [] })
    // 10 periods are no silence yet.
    expect(told(look(1100, { seen: [1090, 1100] })).lost).toBe(0)
  })

  it('one drive that keeps it is named', () => {
    expect(told(look(1100, { off: [1090, null] }))).toMatchObject({ lost: 1, still: ['roll'], spread: 0 })
  })

  it('a loss that was seen once stays one, when the drive comes back', () => {
    expect(told(look(1100, { off: [1090, null] }), look(1200))).toMatchObject({ lost: 1, still: ['roll'] })
    // And it is told from where it was seen first.
    const again = told(look(1100, { off: [1090, 1100] }), look(1200), look(1300, { off: [1290, 1100] }))
    expect(again.spread).toBeCloseTo(0.01, 9)
  })

  it('a joint that goes on is at rest as late as its feedback says, counted from the first sign', () => {
    const off = [1090, 1095]
    const going = told(
      look(1100, { off, rest: [null, -1], positions: [1.01, 2] }),
      look(1300, { off, rest: [1210, -1], positions: [1.04, 1.99] }),
    )
    expect(going).toMatchObject({ toRest: 0.12, moving: [] })
    expect(going.travel).toBeCloseTo(0.04, 12)
  })

  it('a joint that is not at rest at the end is named, and there is no time', () => {
    const sinking = told(look(1100, { off: [1090, 1090], rest: [-1, null] }))
    expect(sinking).toMatchObject({ toRest: null, moving: ['roll'], unseen: [] })
  })

  it('nothing before the look that came before the press counts', () => {
    const early = told(look(1020, { off: [900, 1010] }))
    expect(early.spread).toBeCloseTo(0.01, 9)
  })
})
