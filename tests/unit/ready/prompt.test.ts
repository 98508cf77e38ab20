import { describe, expect, it } from 'vitest'
import { withBusAddresses } from '../../../src/files/bus-override.js'
import { loadRig } from '../../../src/files/load.js'
import { resolvedRigText } from '../../../src/files/resolved-text.js'
import { rigHash, toConfirm } from '../../../src/ready/confirmed.js'
import { isReal, mayMove } from '../../../src/ready/may-move.js'
import { cautionText, confirmMotion, type Prompt } from '../../../src/ready/prompt.js'
import { confirmedFile, writeConfirmed } from '../../../src/ready/store.js'
import { CAUTIONS } from '../../../src/verdict/cautions.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { change, DEMO_RIG, temporaryFolder } from '../../setup/runs.js'

const REAL = withBusAddresses(
  DEMO_RIG,
  ['port-can', 'starboard-can'],
  ['port-can=socketcan:can0', 'starboard-can=socketcan:can1'],
)
const load = (text: string) => loadRig(text, 'rig.yaml', watchSchemas)

function prompted(answer: string | null | 'no terminal', confirm?: string) {
  const said: string[] = []
  const prompt: Prompt = {
    say: (text) => said.push(text),
    ask: answer === 'no terminal' ? null : async () => answer,
    confirm,
  }
  return { prompt, said }
}

describe('the prompt', () => {
  const rig = load(REAL)

  it.each([
    ['the name typed', 'reservoir-skiff', undefined],
    ['with a blank behind it', 'reservoir-skiff ', undefined],
    ['--confirm on a terminal', null, 'reservoir-skiff'],
    ['--confirm without one', 'no terminal', 'reservoir-skiff'],
  ])('lets the arms move: %s', async (_, answer, confirm) => {
    const { prompt, said } = prompted(answer, confirm)
    await confirmMotion(rig, prompt)
    for (const caution of CAUTIONS) expect(said.join('\n')).toContain(caution)
    expect(said.join('\n')).toMatch(/Press the hard-wired emergency stop once/)
    expect(said.join('\n')).toMatch(/Nobody stands within reach/)
  })

  it.each([
    ['another name', 'reservoir', undefined, /the name was not typed/],
    ['y', 'y', undefined, /the name was not typed/],
    ['the name in capitals', 'RESERVOIR-SKIFF', undefined, /the name was not typed/],
    ['--confirm with nothing', 'reservoir-skiff', '', /--confirm : this is rig/],
    ['--confirm with its beginning', 'reservoir-skiff', 'reservoir', /--confirm reservoir: this is rig/],
    ['nothing', '', undefined, /the name was not typed/],
    ['the end of the input', null, undefined, /the name was not typed/],
    ['no terminal', 'no terminal', undefined, /no terminal to confirm on.*--confirm reservoir-skiff/],
    [
      '--confirm with another name',
      'reservoir-skiff',
      'skiff',
      /--confirm skiff: this is rig reservoir-skiff/,
    ],
  ])('moves nothing: %s', async (_, answer, confirm, says) => {
    await expect(confirmMotion(rig, prompted(answer, confirm).prompt)).rejects.toThrow(says)
  })

  it('warns where the rig states no brakes, and only there', () => {
    expect(cautionText(rig)).not.toContain('WARNING')
    const unbraked = load(change(REAL, /(stop:[\s\S]*?)brakes: true/, (_, head) => `${head}brakes: false`))
    expect(cautionText(unbraked)).toMatch(/WARNING: .*no brakes.* support them now/)
  })
})

describe('may the arms move?', () => {
  it('one bus that is no mock makes them real', () => {
    const mixed = withBusAddresses(DEMO_RIG, ['port-can', 'starboard-can'], ['starboard-can=socketcan:can1'])
    expect([DEMO_RIG, mixed, REAL].map((text) => isReal(load(text)))).toEqual([false, true, true])
  })

  const folder = temporaryFolder()
  const rigFile = `${folder}/rig.yaml`

  it('simulated arms: nobody is asked', async () => {
    const { prompt, said } = prompted('no terminal')
    await mayMove({ rig: load(DEMO_RIG), rigText: DEMO_RIG, rigFile }, prompt)
    expect(said).toEqual([])
  })

  it('real arms that nobody has confirmed: no, whatever is typed, and the message names the command', async () => {
    const { prompt, said } = prompted('reservoir-skiff', 'reservoir-skiff')
    const asked = mayMove({ rig: load(REAL), rigText: REAL, rigFile }, prompt)
    await expect(asked).rejects.toThrow(
      /never confirmed[\s\S]*and 7 more[\s\S]*drystroke jog --rig .*rig\.yaml/,
    )
    await expect(asked).rejects.toMatchObject({ code: 'not-confirmed', exitStatus: 2 })
    expect(said).toEqual([])
  })

  it('real arms, all confirmed: once the name has been typed; and no more after a change of the rig file', async () => {
    const stamp = new Date().toISOString()
    const rig = rigHash(resolvedRigText(REAL, watchSchemas))
    const confirmations = toConfirm(load(REAL)).map((thing) => ({
      ...thing,
      at: stamp,
      by: 'somebody',
      rig,
      arms: 'real' as const,
      drive: thing.what === 'joint' ? `drive of ${thing.place}` : null,
      time: null,
      found: 'well',
    }))
    // Eight that lack are all named.
    writeConfirmed(confirmedFile(rigFile), 'reservoir-skiff', confirmations.slice(8))
    const eight = mayMove({ rig: load(REAL), rigText: REAL, rigFile }, prompted('reservoir-skiff').prompt)
    const { message } = await eight.then(
      () => expect.unreachable(),
      (error: Error) => error,
    )
    expect(message.match(/^ {2}- /gm)).toHaveLength(8)
    expect(message).not.toContain('more')

    writeConfirmed(confirmedFile(rigFile), 'reservoir-skiff', confirmations)
    const { prompt, said } = prompted('reservoir-skiff')
    const moving = await mayMove({ rig: load(REAL), rigText: REAL, rigFile }, prompt)
    expect(said).toHaveLength(1)
    expect(moving!.drives).toEqual(load(REAL).joints.map((j) => `drive of ${j.name}`))
    // No stopping time is needed to move.
    expect(moving!.overall).toMatchObject({ test: null, lacks: expect.stringMatching(/was never entered$/) })

    const changed = change(REAL, 'zero: "1200 counts"', 'zero: "1300 counts"')
    await expect(mayMove({ rig: load(changed), rigText: changed, rigFile }, prompt)).rejects.toThrow(
      /another state of the rig file/,
    )
    // A comment is no change.
    const commented = `${REAL}# seen to be right\n`
    await mayMove({ rig: load(commented), rigText: commented, rigFile }, prompt)
  })
})
