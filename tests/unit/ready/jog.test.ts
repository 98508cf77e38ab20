/** The guided jog on simulated arms, with a person who answers what an eye beside the arm would see. */
import { describe, expect, it } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { FARTHEST, type Guide, jogJoints, pressStop, pullPlug } from '../../../src/ready/jog.js'
import type { PowerLost } from '../../../src/ready/power-loss.js'
import { VirtualJog } from '../../../src/ready/virtual-jog.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { change, DEMO_RIG } from '../../setup/runs.js'

const DEG = Math.PI / 180

/** Sees the true positions, knows the marks (true zeros), and says what is so. */
function scene(
  rigText = DEMO_RIG,
  answers: (question: string) => string | null | undefined = () => undefined,
) {
  const rig = loadRig(rigText, 'rig.yaml', watchSchemas)
  const session = new VirtualJog(rig)
  const said: string[] = []
  const asked: string[] = []
  let joint = 0
  let before = 0
  let farthest = 0
  let apart = 0
  const guide: Guide = {
    rig,
    session,
    say: (text) => {
      said.push(text)
      const index = rig.joints.findIndex((j) => text.startsWith(`\n${j.name}:`))
      if (index >= 0) joint = index
    },
    now: () => '2030-06-01T12:00:00Z',
    by: 'somebody',
    hash: 'this rig',
    ask: async (question) => {
      asked.push(question)
      const other = answers(question)
      if (other !== undefined) return other
      if (/everybody is clear/.test(question)) {
        before = session.truth(joint)
        return ''
      }
      const moved = session.truth(joint) - before
      farthest = Math.max(farthest, Math.abs(moved))
      if (/Which way/.test(question)) return Math.abs(moved) < 0.5 * DEG ? '0' : moved > 0 ? '+' : '-'
      if (/how many degrees/.test(question)) return Math.abs(moved / DEG).toFixed(0)
      apart = Math.abs(session.truth(joint) - session.position(joint))
      if (/by its mark/.test(question)) return apart < 1 * DEG ? 'y' : 'n'
      return 'y'
    },
  }
  return { rig, session, guide, said, asked, farthest: () => farthest }
}

describe('joint by joint', () => {
  it('a rig that is right: every joint is confirmed, and none moves more than 5 deg', async () => {
    const { rig, guide, session, farthest } = scene()
    const { confirmed, wrong } = await jogJoints(guide, rig.joints, FARTHEST)
    expect(wrong).toEqual([])
    expect(confirmed.map((c) => c.place)).toEqual(rig.joints.map((j) => j.name))
    expect(confirmed[0]).toMatchObject({ what: 'joint', by: 'somebody', rig: 'this rig', arms: 'simulated' })
    expect(farthest()).toBeGreaterThan(4.5 * DEG)
    expect(farthest()).toBeLessThan(5.2 * DEG)
    await session.end()
  })

  it.each([
    ['its sign', /(starboard\.elbow: \{[^}]*sign: )-1/, '$11', /was seen to turn .*wire\.sign/],
    ['its zero', /(starboard\.elbow: \{[^}]*zero: )"65536 counts"/, '$1"60536 counts"', /wire\.zero/],
    ['its scale', /(starboard\.elbow: \{ counts-per-turn: )131072/, '$165536', /wire\.counts-per-turn/],
  ])(
    'the rig is wrong in %s: the joint is not confirmed, and what to look at is said',
    async (_, from, to, says) => {
      // The simulated truth differs from the binding; feedback alone looks right. Start where both are inside the limits.
      const text = DEMO_RIG.replace(from, to).replace(/(starboard\.elbow: \{.*start: )"90 deg"/, '$1"10 deg"')
      expect(text).not.toBe(DEMO_RIG)
      const { rig, guide } = scene(
        change(
          text,
          /(elbow\n[\s\S]*?)position: \["-20 deg", "150 deg"\]/g,
          (_, head) => `${head}position: ["-300 deg", "300 deg"]`,
        ),
      )
      const elbow = rig.joints.find((j) => j.name === 'starboard.elbow')!
      const other = rig.joints.find((j) => j.name === 'port.elbow')!
      const { confirmed, wrong } = await jogJoints(guide, [other, elbow], FARTHEST)
      expect(wrong).toEqual([expect.stringMatching(/^starboard\.elbow: /)])
      expect(wrong[0]).toMatch(says)
      expect(confirmed.map((c) => c.place)).toEqual(['port.elbow'])
    },
  )

  it.each([
    [
      'the other way',
      (q: string) => (/Which way/.test(q) ? '+' : undefined),
      /should have turned -, and was seen to turn \+: look at wire\.sign/,
    ],
    ['not at all', (q: string) => (/Which way/.test(q) ? '0' : undefined), /seen to turn not at all/],
    ['another joint', (q: string) => (/Which way/.test(q) ? '?' : undefined), /another joint moved/],
    ['ten times as far', (q: string) => (/how many/.test(q) ? '50' : undefined), /wire\.counts-per-turn/],
    ['off its mark', (q: string) => (/mark/.test(q) ? 'n' : undefined), /wire\.zero/],
  ])('a person who saw %s confirms nothing', async (_, answers, says) => {
    const { rig, guide } = scene(DEMO_RIG, answers)
    const elbow = rig.joints.find((j) => j.name === 'port.elbow')!
    const { confirmed, wrong } = await jogJoints(guide, [elbow], FARTHEST)
    expect(confirmed).toEqual([])
    expect(wrong).toEqual([expect.stringMatching(says)])
  })

  it('answers that are none are asked for again; answers that end confirm nothing', async () => {
    let times = 0
    const stubborn = scene(DEMO_RIG, (q) => (/Which way/.test(q) && times++ < 2 ? 'left' : undefined))
    const { confirmed } = await jogJoints(stubborn.guide, [stubborn.rig.joints[1]!], FARTHEST)
    expect(confirmed).toHaveLength(1)
    expect(stubborn.asked.filter((q) => /Which way/.test(q))).toHaveLength(3)

    const gone = scene(DEMO_RIG, (q) => (/Which way/.test(q) ? null : undefined))
    await expect(jogJoints(gone.guide, [gone.rig.joints[1]!], FARTHEST)).rejects.toMatchObject({
      code: 'not-confirmed',
    })
  })

  it('a joint that does not move stops the jog: the watches of a run are in force', async () => {
    const jammed = change(
      DEMO_RIG,
      /(port\.elbow: \{ counts-per-turn: )131072/,
      (_, head) => `${head}1310720`,
    )
    const { rig, guide } = scene(jammed)
    const elbow = rig.joints.find((j) => j.name === 'port.elbow')!
    await expect(jogJoints(guide, [elbow], FARTHEST)).rejects.toThrow(/port\.elbow|stopped/)
  })
})

describe('the hard-wired stop', () => {
  it('is confirmed when every drive lost its power and a person saw it', async () => {
    const { guide, said } = scene()
    const { confirmed, wrong } = await pressStop(guide)
    expect(wrong).toEqual([])
    expect(confirmed).toEqual([expect.objectContaining({ what: 'stop', arms: 'simulated' })])
    // The simulated drives lose all their power at once, and say no more.
    expect(said.join('\n')).toMatch(
      /within 0 ms of the first sign on the bus; the feedback of 12 joints ended/,
    )
    expect(said.join('\n')).toMatch(/the press itself is not seen, .* no overall stopping time/)
    expect(confirmed[0]!.time).toBeNull()
  })

  it('is not, when the person did not see it', async () => {
    const { guide } = scene(DEMO_RIG, (q) => (/lose its power/.test(q) ? 'n' : undefined))
    expect(await pressStop(guide)).toMatchObject({
      confirmed: [],
      wrong: [expect.stringMatching(/not every drive/)],
    })
  })
})

describe('how the power went', () => {
  const LOST: PowerLost = {
    ...{ still: [], spread: 0.02, toRest: 0, unseen: [], moving: [], travel: 0 },
  }
  async function pressed(lost: Partial<PowerLost>) {
    const { guide } = scene()
    const session = {
      arms: 'real' as const,
      start: async () => {},
      powerLoss: async () => ({ ...LOST, ...lost }),
    }
    return pressStop({ ...guide, session: session as unknown as Guide['session'], ask: async () => 'y' })
  }

  it.each([
    ['at once', {}, /within 20 ms of the first sign on the bus; no joint was seen to leave its place;/, 0],
    [
      'with a joint that sinks',
      { toRest: 0.13, travel: 0.5 * DEG },
      /at rest at least 130 ms after the press, having moved by up to 0.5 deg;/,
      0.13,
    ],
    [
      'with the feedback of one',
      { toRest: null, unseen: ['port.elbow'] },
      /the feedback of port\.elbow ended with the power, so nothing shows/,
      null,
    ],
  ] as const)('%s: confirmed, and what was seen is told for what it is', async (_, lost, says, time) => {
    const { confirmed, wrong } = await pressed(lost)
    expect(wrong).toEqual([])
    expect(confirmed).toEqual([expect.objectContaining({ what: 'stop', arms: 'real', time })])
    expect(confirmed[0]!.found).toMatch(says)
    expect(confirmed[0]!.found).toMatch(/no overall stopping time$/)
  })

  it.each([
    ['not at all', { spread: null, still: ['port.elbow'] }, /nothing on the bus showed it/],
    ['but for one drive', { still: ['port.elbow'] }, /still with power: port\.elbow/],
    [
      'with a joint that does not come to rest',
      { toRest: null, moving: ['port.roll'] },
      /not at rest: port\.roll/,
    ],
  ] as const)('%s: not confirmed', async (_, lost, says) => {
    expect(await pressed(lost)).toEqual({ confirmed: [], wrong: [expect.stringMatching(says)] })
  })
})

describe('a bus without its host', () => {
  it.each([0, 1])('bus %i: its drives stop by themselves, and the time is told', async (bus) => {
    const { rig, guide } = scene()
    const joint = rig.joints.find((j) => j.wire.bus === bus)!
    const { confirmed, wrong } = await pullPlug(guide, bus, joint)
    expect(wrong).toEqual([])
    expect(confirmed).toEqual([expect.objectContaining({ what: 'unplug', place: rig.buses[bus]!.name })])
    // 5 periods of 5 ms until the drive misses SYNC, then its ramp from a slow speed.
    const [, ms] = /still (\d+(?:\.\d+)?) ms/.exec(confirmed[0]!.found)!
    expect(Number(ms)).toBeGreaterThanOrEqual(20)
    expect(Number(ms)).toBeLessThan(200)
  })
})
