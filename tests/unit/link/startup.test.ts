/**
 * From unknown drives to arms that follow, as transcripts with scripted drives: a good start, and one drive that answers
 * one object wrongly, is silent, lies about bit 12, stands outside its limits, never boots, is enabled from before, or
 * has no heartbeat. Each must be refused, by name, and never earlier than the rig's patience allows.
 *
 * Frames: CiA 301 (NMT 000h: 01 start, 80h pre-operational, 82h reset communication; SDO 600h and 580h + node) and CiA 402
 * (controlwords 06h shutdown, 07h switch on, 0Fh enable operation, 80h fault reset, 02h quick stop, 00h disable voltage).
 */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import type { StartupRefusal, StartupStep } from '../../../src/link/startup.js'
import type { DriveCommand, DriveState } from '../../../src/wire/observation.js'
import { watchSchemas } from '../files/watch-schemas.js'
import { MS, type ScriptedDrive, ScriptedStart } from './scripted-drives.js'

const rig = loadRig(
  readFileSync(new URL('../files/small-rig.yaml', import.meta.url), 'utf8'),
  'small-rig.yaml',
  watchSchemas,
)
const PATIENCE = 2000 * MS
const ELBOW = 1

/** A start in which something is wrong with the elbow. */
function start(harm: (elbow: ScriptedDrive) => void = () => {}): ScriptedStart {
  const s = new ScriptedStart(rig, rig.joints[ELBOW]!.wire.bus)
  harm(s.drives[ELBOW]!)
  s.begin()
  return s
}

/** What the elbow is refused for. */
function refusal(s: ScriptedStart, each?: () => void): Omit<StartupRefusal, 'drive'> {
  const refused = s.run(each)
  expect(refused?.drive?.joint.name).toBe('port.elbow')
  const { says, expected, found } = refused!
  return { says, expected, found }
}

const controlwords = (s: ScriptedStart): string[] =>
  s.transcript.filter((line) => line.startsWith('> 181:')).map((line) => line.slice('> 181: '.length))
const isMove = (line: string): boolean => /^> (181: 0[67f]|20b)/.test(line)

describe('a good start', () => {
  const s = start()
  const refused = s.run()

  it('goes through every step and is refused by nobody', () => {
    expect(refused).toBeNull()
    expect(s.steps).toEqual(['calm', 'reset', 'configure', 'seed', 'follow', 'enable', 'ready'])
    expect(s.link.drives.every((d) => d.follows && d.held)).toBe(true)
  })

  it('begins by asking whether the drive is enabled, then resets its communication', () => {
    expect(s.transcript.filter((line) => !line.startsWith('< 70b')).slice(0, 3)).toEqual([
      '> 60b: 40 41 60 00 00 00 00 00',
      '< 58b: 4b 41 60 00 40 00 00 00',
      '> 000: 82 00',
    ])
  })

  it('writes each object and reads it back: the first and the mode', () => {
    // 1017h = 50 ms = 32h, two bytes; 6060h = 8, one byte, seen in 6061h.
    const from = s.transcript.indexOf('> 60b: 2b 17 10 00 32 00 00 00')
    expect(s.transcript.slice(from, from + 4)).toEqual([
      '> 60b: 2b 17 10 00 32 00 00 00',
      '< 58b: 60 17 10 00 00 00 00 00',
      '> 60b: 40 17 10 00 00 00 00 00',
      '< 58b: 43 17 10 00 32 00 00 00',
    ])
    const mode = s.transcript.indexOf('> 60b: 2f 60 60 00 08 00 00 00')
    expect(s.transcript[mode + 2]).toBe('> 60b: 40 61 60 00 00 00 00 00')
  })

  it('seeds the target with the position read, then starts nodes and SYNC, then enables step by step', () => {
    // 0.5 rad of 65536 counts a turn, sign -1: -5215 = FFFFEBA1h.
    const from = s.transcript.indexOf('> 60b: 40 64 60 00 00 00 00 00')
    expect(s.transcript.slice(from).filter((line) => !line.startsWith('< 70b'))).toEqual([
      '> 60b: 40 64 60 00 00 00 00 00',
      '< 58b: 43 64 60 00 a1 eb ff ff',
      '> 60b: 23 7a 60 00 a1 eb ff ff',
      '< 58b: 60 7a 60 00 00 00 00 00',
      '> 60b: 40 7a 60 00 00 00 00 00',
      '< 58b: 43 7a 60 00 a1 eb ff ff',
      '> 000: 01 00',
      '> 080:',
      '< 18b: 40 00 a1 eb ff ff 00 00',
      '> 20b: a1 eb ff ff',
      '> 181: 06 00',
      '< 18b: 21 00 a1 eb ff ff 00 00',
      '> 181: 07 00',
      '< 18b: 23 00 a1 eb ff ff 00 00',
      '> 181: 0f 00',
      '< 18b: 27 10 a1 eb ff ff 00 00',
    ])
  })

  it('sends SYNC and feedback comes for 20 ticks before the first controlword, and 20 after all follow', () => {
    const t = start()
    const at: Partial<Record<StartupStep, number>> = {}
    t.run(() => {
      at[t.startup.step] ??= t.t
    })
    expect((at.enable! - at.follow!) / (5 * MS)).toBeGreaterThan(20)
    expect((at.ready! - at.enable!) / (5 * MS)).toBeGreaterThan(20)
  })
})

describe('one object answered wrongly refuses the run, and names object, expected and found', () => {
  // Small rig, port.elbow: node 11, 65536 counts a turn, 20 N m of 15 N m rated, settings at their defaults.
  it.each([
    ['1017:0', '1017h:0', 50],
    ['1016:1', '1016h:1', 0x7f0064],
    ['1029:1', '1029h:1', 0],
    ['6007:0', '6007h:0', 3],
    ['605a:0', '605Ah:0', 2],
    ['605e:0', '605Eh:0', 2],
    ['6085:0', '6085h:0', 273067],
    ['6065:0', '6065h:0', 1820],
    ['6066:0', '6066h:0', 100],
    ['6072:0', '6072h:0', 800],
    ['6061:0', '6061h:0', 8],
    ['60c2:1', '60C2h:1', 5],
    ['60c2:2', '60C2h:2', -3],
    ['1400:2', '1400h:2', 1],
    ['1600:1', '1600h:1', 0x607a0020],
    ['1401:2', '1401h:2', 255],
    ['1601:1', '1601h:1', 0x60400010],
    ['1800:2', '1800h:2', 1],
    ['1a00:3', '1A00h:3', 0x60770010],
  ])('%s', (object, name, expected) => {
    const s = start((elbow) => {
      elbow.lie = (o, value) => (o === object ? value ^ 4 : value)
    })
    const { says, ...values } = refusal(s)
    expect(says).toContain(`object ${name}`)
    expect(values.expected).toBe(String(expected))
    expect(values.found).not.toBe(values.expected)
    expect(s.transcript.some(isMove)).toBe(false)
    expect(s.transcript).not.toContain('> 000: 01 00')
  })

  it('the target read back: one count beside the measured position', () => {
    const s = start((elbow) => {
      elbow.lie = (o, value) => (o === '607a:0' ? value + 1 : value)
    })
    expect(refusal(s)).toEqual({
      says: 'target position differs from the measured one',
      expected: '-5215',
      found: '-5214',
    })
    expect(s.transcript.some(isMove)).toBe(false)
  })
})

describe('a drive that stands outside its position limits', () => {
  // -20 deg to 150 deg; sign -1, 65536 counts a turn.
  const counts = (deg: number): number => Math.round((-deg / 360) * 65536)

  it.each([
    ['above', 151, '151.0 deg'],
    ['below', -21, '-21.0 deg'],
  ])('%s is refused before its node is started', (_, deg, found) => {
    const s = start((elbow) => {
      elbow.counts = counts(deg)
    })
    const refused = refusal(s)
    expect(refused.says).toMatch(/^stands outside its position limits/)
    expect(refused).toMatchObject({ expected: '-20.0 deg to 150.0 deg', found })
    expect(s.transcript).not.toContain('> 000: 01 00')
    expect(s.transcript.some(isMove)).toBe(false)
  })

  it.each([149.9, -19.9])('inside at %s deg it is accepted', (deg) => {
    expect(
      start((elbow) => {
        elbow.counts = counts(deg)
      }).run(),
    ).toBeNull()
  })
})

describe('a silent drive', () => {
  it('is asked for as long as patience lasts, since it may still be starting up', () => {
    const s = start((elbow) => {
      elbow.mute = true
    })
    expect(refusal(s)).toMatchObject({
      says: 'does not answer; look at power, wiring, termination, bit rate and node id',
      found: 'none after 40 requests',
    })
    expect(s.t).toBe(PATIENCE)
    expect(s.transcript).not.toContain('> 000: 82 00')
  })

  it('that wakes up within that time is taken', () => {
    const s = start((elbow) => {
      elbow.mute = true
    })
    const awake = (): void => {
      if (s.t > 1900 * MS) s.drives[ELBOW]!.mute = false
    }
    expect(s.run(awake)).toBeNull()
  })

  it('after it has been reset is given up after two requests', () => {
    const s = start()
    s.runTo('reset')
    s.drives[ELBOW]!.mute = true
    const from = s.t
    expect(refusal(s)).toMatchObject({
      says: 'does not answer for object 1018h:1',
      found: 'none after 2 requests',
    })
    expect(s.t - from).toBeLessThan(200 * MS)
  })
})

describe('what never comes is waited for as long as patience lasts, not longer and not less', () => {
  /** Refused for good reason, and when: ns after the step was entered. */
  function late(step: StartupStep, harm: (elbow: ScriptedDrive) => void) {
    const s = start()
    s.runTo(step)
    harm(s.drives[ELBOW]!)
    const from = s.t
    const refused = refusal(s)
    expect(s.startup.step).toBe(step)
    expect(s.t - from).toBeGreaterThan(PATIENCE)
    expect(s.t - from).toBeLessThanOrEqual(PATIENCE + 10 * MS)
    expect(refused.expected).toContain('within 2 s')
    return { ...refused, s }
  }

  it('a node that never boots', () => {
    const s = start((elbow) => {
      elbow.beats = false
    })
    const refused = refusal(s)
    expect(refused.says).toMatch(/^does not report after NMT reset communication/)
    expect(refused).toMatchObject({ expected: 'a boot-up message or heartbeat within 2 s', found: 'nothing' })
    expect(s.t).toBeGreaterThan(PATIENCE)
    expect(s.t).toBeLessThanOrEqual(PATIENCE + 20 * MS)
    expect(s.transcript.some(isMove)).toBe(false)
  })

  it('a node that stays in another state', () => {
    const s = start((elbow) => {
      elbow.obeysNetwork = false
      elbow.network = 'stopped'
    })
    expect(refusal(s)).toMatchObject({ found: 'node state stopped' })
  })

  it('feedback', () => {
    const { says, found, s } = late('follow', (elbow) => {
      elbow.feeds = false
    })
    expect({ says, found }).toEqual({
      says: 'sends no feedback although its node was started',
      found: 'none',
    })
    expect(s.transcript.some(isMove)).toBe(false)
  })

  it('a heartbeat', () => {
    const { says, found, s } = late('follow', (elbow) => {
      elbow.beats = false
    })
    expect(says).toMatch(/^sends no heartbeat that says operational/)
    expect(found).toBe('none')
    expect(s.transcript.some(isMove)).toBe(false)
  })

  it('bit 12: the drive says enabled, and that it does not follow', () => {
    const { says, found } = late('enable', (elbow) => {
      elbow.follows = false
    })
    expect(says).toBe('does not come to operation enabled and follow its setpoint')
    expect(found).toBe('operation enabled, not following')
  })

  it('operation enabled', () => {
    const { found } = late('enable', (elbow) => {
      elbow.ignores.add('switch on')
    })
    expect(found).toBe('ready to switch on, not following')
  })
})

describe('a drive enabled from before', () => {
  const enabled = (elbow: ScriptedDrive): void => {
    elbow.state = 'operation enabled'
  }

  const WRITES = /^> 60b: 2b 40 60 00 (..)/
  const written = (s: ScriptedStart): string[] => s.transcript.flatMap((line) => WRITES.exec(line)?.[1] ?? [])

  it('is told by SDO before anything else, reported, and its power goes only when it has come to rest', () => {
    const s = start(enabled)
    let stoppedAt = 0
    const atRest = (): void => {
      const elbow = s.drives[ELBOW]!
      // Its ramp takes a fifth of a second, then it is off by itself (605Ah = 2).
      if (elbow.state === 'quick stop active') stoppedAt ||= s.t
      if (stoppedAt > 0 && s.t >= stoppedAt + 200 * MS && elbow.state === 'quick stop active')
        elbow.state = 'switch on disabled'
    }
    expect(s.run(atRest)).toBeNull()
    const reset = s.transcript.indexOf('> 000: 82 00')
    expect(s.transcript.findIndex((line) => WRITES.test(line))).toBeLessThan(reset)
    expect(written(s)).toEqual(['02'])
    expect(s.startup.notices.map((n) => 'drive' in n && n.drive.joint.name)).toEqual(['port.elbow'])
  })

  it('that stays in quick stop active gets its power cut once the longest quick stop must be over', () => {
    const s = start(enabled)
    const asked: number[] = []
    expect(
      s.run(() => {
        if (written(s).length > asked.length) asked.push(s.t)
      }),
    ).toBeNull()
    expect(written(s)).toEqual(['02', '00'])
    expect(asked[1]! - asked[0]!).toBeGreaterThan(500 * MS)
  })

  it.each<[DriveCommand[], string]>([
    [['disable voltage'], 'quick stop active'],
    [['quick stop', 'disable voltage'], 'operation enabled'],
  ])('and does not obey %j: refused, nothing is reset', (ignored, found) => {
    const s = start((elbow) => {
      enabled(elbow)
      for (const command of ignored) elbow.ignores.add(command)
    })
    expect(refusal(s)).toEqual({
      says: 'gives torque, and neither quick stop nor disable voltage by SDO ends it; cut its power with the hard-wired stop',
      expected: 'a drive without torque',
      found,
    })
    expect(s.transcript).not.toContain('> 000: 82 00')
  })

  it.each<DriveState>(['operation enabled', 'quick stop active', 'fault reaction active'])(
    'enabled by somebody else while setpoints are about to flow is refused: %s',
    (state) => {
      const s = start()
      s.runTo('follow')
      s.drives[ELBOW]!.state = state
      expect(refusal(s)).toMatchObject({ expected: 'a drive without torque', found: state })
      expect(s.transcript.some(isMove)).toBe(false)
    },
  )
})

describe('enabling', () => {
  it('a fault is reset by a rising edge of bit 7', () => {
    const s = start((elbow) => {
      elbow.state = 'fault'
    })
    expect(s.run()).toBeNull()
    expect(controlwords(s)).toEqual(['00 00', '80 00', '06 00', '07 00', '0f 00'])
  })

  it('a controlword without effect is repeated, some 50 ms apart, fault reset with its edge', () => {
    const s = start((elbow) => {
      elbow.state = 'fault'
      elbow.ignores.add('fault reset')
    })
    s.runTo('enable')
    for (let i = 0; i < 25; i++) s.tick()
    expect(controlwords(s)).toEqual(['00 00', '80 00', '00 00', '80 00', '00 00', '80 00'])
  })

  it('the least advanced drive of all decides the command', () => {
    const s = start()
    s.drives[0]!.state = 'fault'
    s.runTo('enable')
    s.tick()
    s.tick()
    expect(controlwords(s)[0]).toBe('00 00')
    expect(s.run()).toBeNull()
  })

  it('a drive that stops following begins the settling anew', () => {
    const s = start()
    s.runTo('enable')
    for (let i = 0; i < 15; i++) s.tick()
    const elbow = s.drives[ELBOW]!
    elbow.follows = false
    s.tick()
    s.tick()
    elbow.follows = true
    const from = s.t
    s.run()
    expect((s.t - from) / (5 * MS)).toBeGreaterThan(20)
  })
})

describe('again, after a stop', () => {
  it('nodes are reset and everything is written anew, whatever has become of the set-up', () => {
    const s = start()
    s.link.halt()
    s.begin()
    expect(s.run()).toBeNull()
    expect(s.transcript).toContain('> 000: 82 00')
    expect(s.transcript).toContain('> 60b: 2b 17 10 00 32 00 00 00')
  })

  it('drives may be enabled again, which the stop had forbidden', () => {
    const s = start()
    s.link.halt()
    s.begin()
    expect(s.run()).toBeNull()
    expect(controlwords(s)).toEqual(['06 00', '07 00', '0f 00'])
  })
})
