/** What of the guided jog is confirmed and what is not, on arms that do just what a test says. */
import { describe, expect, it } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import { type Guide, type JogSession, jogJoints, pullPlug, type Unplugged } from '../../../src/ready/jog.js'

const DEG = Math.PI / 180
const RIG = readRigFile('rigs/reservoir-skiff.yaml', {})
const ELBOW = RIG.joints.find((j) => j.name === 'port.elbow')!

/** Joints at 10 deg that move by `share` of what they are told. */
function scene(session: Partial<JogSession>, answers: readonly (readonly [RegExp, string])[], share = 1) {
  const at = RIG.joints.map(() => 10 * DEG)
  const moves: number[] = []
  const guide: Guide = {
    rig: RIG,
    session: {
      arms: 'real',
      start: async () => {},
      drive: () => 'serial 1',
      position: (j) => at[j]!,
      moveTo: async (j, angle) => {
        moves.push(angle)
        at[j] = 10 * DEG + share * angle
      },
      end: async () => {},
      ...session,
    } as JogSession,
    say: () => {},
    ask: async (question) => answers.find(([q]) => q.test(question))?.[1] ?? '',
    now: () => '2030-06-01T12:00:00Z',
    by: 'somebody',
    hash: 'this rig',
  }
  return { guide, moves }
}

const seen = (degrees: string): [RegExp, string][] => [
  [/Which way/, '+'],
  [/how many degrees/, degrees],
  [/by its mark/, 'y'],
]

describe('a joint of +5 deg', () => {
  it.each([
    ['2.5', 1],
    ['7.5', 1],
    ['5', 0.81],
    ['5', 1.19],
  ])('seen as %s deg, %f of it by feedback: confirmed, with its drive', async (degrees, share) => {
    const { guide, moves } = scene({}, seen(degrees), share)
    const { confirmed, wrong } = await jogJoints(guide, [ELBOW], 5 * DEG)
    expect(wrong).toEqual([])
    expect(confirmed).toMatchObject([{ place: 'port.elbow', drive: 'serial 1', time: null, arms: 'real' }])
    expect(moves).toEqual([5 * DEG, 0])
  })

  it.each([
    ['2.4', 1, /counts-per-turn/],
    ['7.6', 1, /counts-per-turn/],
    ['5', 0.79, /moved 3\.95 deg by its feedback, not 5 deg/],
    ['5', 1.21, /moved 6\.05 deg by its feedback, not 5 deg/],
  ])('seen as %s deg, %f of it by feedback: not confirmed', async (degrees, share, says) => {
    const { guide } = scene({}, seen(degrees), share)
    const { confirmed, wrong } = await jogJoints(guide, [ELBOW], 5 * DEG)
    expect(confirmed).toEqual([])
    expect(wrong).toEqual([expect.stringMatching(says)])
  })

  it.each([
    ['above', { lower: -20 * DEG, upper: 14.9 * DEG }, [-5 * DEG, 0]],
    ['below', { lower: 5.1 * DEG, upper: 40 * DEG }, [5 * DEG, 0]],
    ['on both sides', { lower: 6 * DEG, upper: 14 * DEG }, []],
    ['only just, on both sides', { lower: 4.9 * DEG, upper: 15.1 * DEG }, [5 * DEG, 0]],
  ] as const)('with the end of its range %s: it never moves past it', async (_, range, moved) => {
    const { guide, moves } = scene({}, seen('5'))
    const joint = { ...ELBOW, limits: { ...ELBOW.limits, ...range } }
    const { wrong } = await jogJoints(guide, [joint], 5 * DEG)
    expect(moves).toEqual(moved)
    if (moved.length === 0) expect(wrong).toEqual([expect.stringMatching(/too near to the end of its range/)])
  })
})

describe('a plug that was pulled', () => {
  const LOST: Unplugged = { lost: true, toStill: null, moving: [] }
  const looked: [RegExp, string][] = [
    [/stay still/, 'y'],
    [/How long/, '0.3'],
  ]
  const pulled = (
    unplugged: Partial<Unplugged>,
    { answers = looked, away = 0.1 * DEG }: { answers?: [RegExp, string][]; away?: number } = {},
  ) => {
    const session = {
      unplug: async () => ({ ...LOST, ...unplugged }),
      lookAgain: async () => away,
    }
    return pullPlug(scene(session, answers).guide, 0, ELBOW)
  }

  it.each([
    ['by eye and by the feedback afterwards', {}, {}, /^by eye still about 0\.3 s .* 0\.1 deg from where/],
    ['as long as 2 s', {}, { answers: [looked[0]!, [/How long/, '2'] as [RegExp, string]] }, /about 2 s/],
    ['as far as 5 deg', {}, { away: 5 * DEG }, /5 deg from where it was last heard/],
    ['by measurement, where there is one', { toStill: 0.031 }, {}, /^still 31 ms after its plug was pulled/],
  ])('%s: confirmed', async (_, unplugged, how, says) => {
    const { confirmed, wrong } = await pulled(unplugged, how)
    expect(wrong).toEqual([])
    expect(confirmed).toMatchObject([
      { what: 'unplug', place: 'port-can', found: expect.stringMatching(says) },
    ])
  })

  it.each([
    ['nothing was lost', { lost: false }, {}, /was not pulled, or nothing on the bus showed it/],
    ['a joint was measured to move on', { moving: ['port.roll'] }, {}, /moved on without a host: port\.roll/],
    ['a joint was measured to, with a time', { toStill: 0.1, moving: ['port.roll'] }, {}, /moved on/],
    [
      'an eye saw it move on',
      {},
      { answers: [[/stay still/, 'n'] as [RegExp, string], looked[1]!] },
      /seen to move on/,
    ],
    [
      'it took too long',
      {},
      { answers: [looked[0]!, [/How long/, '2.1'] as [RegExp, string]] },
      /for 2\.1 s/,
    ],
    ['it went too far', {}, { away: 5.1 * DEG }, /moved on by 5\.1 deg/],
  ])('%s: not confirmed', async (_, unplugged, how, says) => {
    const { confirmed, wrong } = await pulled(unplugged, how)
    expect(confirmed).toEqual([])
    expect(wrong).toEqual([expect.stringMatching(says)])
  })
})
