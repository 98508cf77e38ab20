import { describe, expect, it } from 'vitest'
import { place, seed, usageError } from '../../../src/cli/options.js'

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
