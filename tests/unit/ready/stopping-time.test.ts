import { describe, expect, it } from 'vitest'
import { readRigFile } from '../../../src/files/load.js'
import type { Guide } from '../../../src/ready/jog.js'
import { askStoppingTime } from '../../../src/ready/stopping-time.js'

const HOW = 'laser gate at the blade, full speed, paddles on, worst of 20'

/** A person who answers with these lines, then no more. */
async function asked(answers: readonly string[], seen: number | null = null) {
  const left = [...answers]
  const said: string[] = []
  const guide: Guide = {
    rig: readRigFile('rigs/reservoir-skiff.yaml', {}),
    session: { arms: 'real' } as Guide['session'],
    ask: async () => left.shift() ?? null,
    say: (text) => said.push(text),
    now: () => '2030-06-01T12:00:00Z',
    by: 'somebody',
    hash: 'this rig',
  }
  const { confirmed, wrong } = await askStoppingTime(guide, { time: seen })
  expect(wrong).toEqual([])
  return { confirmed, said: said.join('\n'), left }
}

describe('the overall stopping time', () => {
  it('is what the instrument read, kept with whoever entered it and how it was measured', async () => {
    const { confirmed, said } = await asked([' 320 ms ', HOW])
    expect(confirmed).toEqual([
      {
        ...{ what: 'stopping-time', place: '', time: 0.32, found: HOW, by: 'somebody', arms: 'real' },
        ...{ at: '2030-06-01T12:00:00Z', rig: 'this rig', drive: null },
      },
    ])
    expect(said).toMatch(
      /from the moment it is actuated to the last part at rest, at the full\s+speed and load/,
    )
  })

  it.each([
    ['Enter alone', ['']],
    ['no more answers', []],
    ['no word on how', ['320 ms']],
    ['only blanks on how, then no more', ['320 ms', '  ']],
  ])('%s: none is kept', async (_, answers) => {
    expect((await asked(answers)).confirmed).toEqual([])
  })

  it.each(['320', 'soon', '0 ms', '0.9 ms', '30.1 s', '-1 s', '5 deg'])(
    '%s is none: asked again',
    async (bad) => {
      const { confirmed, said } = await asked([bad, '0.4 s', HOW])
      expect(said).toContain('That is no time')
      expect(confirmed).toMatchObject([{ time: 0.4 }])
    },
  )

  it.each([
    ['1 ms', 0.001],
    ['30 s', 30],
  ])('%s is one', async (typed, time) => {
    expect((await asked([typed, HOW])).confirmed).toMatchObject([{ time }])
  })

  it('cannot be shorter than what the bus has shown of it: the press came before the first sign', async () => {
    const { confirmed, said } = await asked(['119 ms', '120 ms', HOW], 0.12)
    expect(said).toMatch(/That cannot be: .* for 120 ms/)
    expect(confirmed).toMatchObject([{ time: 0.12 }])
  })

  it('is no time that nobody can judge: how it was measured is asked for until it is said', async () => {
    const { confirmed, said } = await asked(['320 ms', '', 'x'.repeat(1001), HOW])
    expect(said.match(/cannot be judged/g)).toHaveLength(2)
    expect(confirmed).toMatchObject([{ found: HOW }])
  })
})
