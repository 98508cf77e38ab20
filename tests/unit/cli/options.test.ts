import { describe, expect, it } from 'vitest'
import { cruise, place, seed, usageError } from '../../../src/cli/options.js'

describe('options', () => {
  it('takes the last of a repeated one', () => {
    expect(seed(['1', '7'])).toBe(7)
    expect(place('out')(['a', 'b'])).toBe('b')
  })

  it.each(['banana', '1.5', '-1', '', '1e3', '9007199254740993'])(
    'refuses the seed %s and repeats it',
    (text) => {
      expect(() => seed(text)).toThrow(`--seed ${text}: expected a whole number`)
    },
  )

  it('refuses an empty place', () => {
    expect(() => place('out')('')).toThrow('--out is empty')
  })
})

describe('a command to cruise under', () => {
  it('is a surge, and a yaw rate or none', () => {
    expect(cruise('0.4 m/s')).toEqual({ surge: 0.4, yaw: 0 })
    expect(cruise(['1 m/s', ' -0.4 m/s , 90 deg/s '])).toEqual({ surge: -0.4, yaw: Math.PI / 2 })
  })

  it.each([
    ['', /--cruise: "" is no number with a unit; expected a speed/],
    ['0.4', /--cruise: "0.4" has no unit/],
    ['0.4 m/s, 5', /--cruise: "5" has no unit; expected an angular speed/],
    ['0.4 m/s, 5 deg/s, 1', /--cruise "0.4 m\/s, 5 deg\/s, 1": expected a surge, and behind a comma/],
  ])('is refused as %j', (text, message) => {
    expect(() => cruise(text)).toThrow(message)
  })
})

describe('a wrong use', () => {
  it.each([
    [
      'Unknown argument: runn',
      ['runn', 'demo'],
      'There is no command runn; expected run, check, envelope, jog, judge, stand-in, survey, stopping, separation, stop; did you mean "run"?',
    ],
    [
      'Unknown argument: rgi',
      ['run', 'demo', '--rgi', 'x'],
      'There is no option --rgi; did you mean "--rig"?',
    ],
    [
      'Unknown arguments: log-levle, logLevle',
      ['run', 'demo', '--log-levle=info'],
      'There is no option --log-levle; did you mean "--log-level"?',
    ],
    ['Unknown argument: quux', ['run', 'demo', '--quux'], 'There is no option --quux.'],
    ['Unknown argument: seed', ['check', 'demo', '--seed', '3'], 'drystroke check has no option --seed.'],
    ['Not enough arguments following: seed', ['run', 'demo', '--seed'], '--seed stands without a value'],
    [
      'Not enough non-option arguments: got 0, need at least 1',
      ['run'],
      'Say which scenario: see drystroke run --help.',
    ],
    [
      'Not enough non-option arguments: got 0, need at least 1',
      ['run', '--jsno', 'demo'],
      'There is no option --jsno; did you mean "--json"?',
    ],
    ['Not enough non-option arguments: got 0, need at least 1', ['judge'], 'Say which recording'],
  ])('%s: %j', (message, args, said) => {
    const error = usageError(message, args)
    expect(error.message.startsWith(said)).toBe(true)
    expect(error.message.match(/--help/g)).toHaveLength(1)
    expect(error.exitStatus).toBe(2)
  })
})
