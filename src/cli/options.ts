/** What the options of the command line accept, and what is said about those that nobody knows. */
import { DrystrokeError } from '../errors.js'
import { didYouMean, nearest } from '../files/nearest.js'
import type { Command } from '../files/scenario.js'
import { parseQuantity } from '../units.js'

/** Last one of an option that was given more than once. */
const last = <T>(given: T | T[]): T | undefined => (Array.isArray(given) ? given.at(-1) : given)

/** A yargs `coerce` for a file or folder. @throws DrystrokeError `usage` when it is empty */
export function place(option: string): (given: string | string[]) => string {
  return (given) => {
    const path = last(given) ?? ''
    if (path !== '') return path
    throw new DrystrokeError('usage', `--${option} is empty: expected a path, for example ${EXAMPLE[option]}`)
  }
}

const EXAMPLE: Readonly<Record<string, string>> = {
  orders: '--orders /run/user/1000/arms.sock',
  'stand-in': '--stand-in /run/user/1000/arms.sock',
  rig: '--rig rigs/reservoir-skiff.yaml',
  out: '--out recordings',
  frames: '--frames can.log',
}

/** A yargs `coerce` for a length with its unit, in m. @throws DrystrokeError `usage` */
export function length(option: string): (given: string | string[]) => number {
  return (given) => {
    try {
      return parseQuantity(last(given) ?? '', 'length')
    } catch (error) {
      throw new DrystrokeError('usage', `--${option}: ${(error as Error).message}`, {}, error)
    }
  }
}

/** A yargs `coerce` for how many places of the stroke are tried. @throws DrystrokeError `usage` */
export function phases(given: string | string[]): number {
  const text = last(given) ?? ''
  const value = Number(text)
  if (/^\d+$/.test(text) && value >= 2 && value <= 360) return value
  throw new DrystrokeError('usage', `--phases ${text}: expected a whole number from 2 to 360, for example 24`)
}

/** A yargs `coerce` for how many directions an envelope has. @throws DrystrokeError `usage` */
export function directions(given: string | string[]): number {
  const text = last(given) ?? ''
  const value = Number(text)
  if (/^\d+$/.test(text) && value >= 8 && value <= 720) return value
  throw new DrystrokeError(
    'usage',
    `--directions ${text}: expected a whole number from 8 to 720, for example 48`,
  )
}

/** A yargs `coerce` for a command that goes on and on: `"0.4 m/s"`, or with a yaw rate `"0.4 m/s, 5 deg/s"`. @throws DrystrokeError `usage` */
export function cruise(given: string | string[]): Command {
  const text = last(given) ?? ''
  const [surge = '', yaw = '0 deg/s', ...more] = text.split(',').map((part) => part.trim())
  try {
    if (more.length === 0)
      return { surge: parseQuantity(surge, 'speed'), yaw: parseQuantity(yaw, 'angular speed') }
  } catch (error) {
    throw new DrystrokeError('usage', `--cruise: ${(error as Error).message}`, {}, error)
  }
  throw new DrystrokeError(
    'usage',
    `--cruise "${text}": expected a surge, and behind a comma a yaw rate or nothing, for example --cruise "0.4 m/s, 5 deg/s"`,
  )
}

/** A yargs `coerce` for a time with its unit, in s. @throws DrystrokeError `usage` */
export function time(option: string): (given: string | string[]) => number {
  return (given) => {
    try {
      return parseQuantity(last(given) ?? '', 'time')
    } catch (error) {
      throw new DrystrokeError('usage', `--${option}: ${(error as Error).message}`, {}, error)
    }
  }
}

/** A yargs `coerce` for the seed; text, so that a message can repeat what was written. @throws DrystrokeError `usage` */
export function seed(given: string | string[]): number {
  const text = last(given) ?? ''
  const value = Number(text)
  if (/^\d+$/.test(text) && Number.isSafeInteger(value)) return value
  throw new DrystrokeError(
    'usage',
    `--seed ${text}: expected a whole number from 0 to ${Number.MAX_SAFE_INTEGER}, for example --seed 1`,
  )
}

// One a line, in the order of --help.
// biome-ignore format: a list that several hands add to
export const COMMANDS = [
  'run',
  'check',
  'envelope',
  'jog',
  'judge',
  'stand-in',
  'survey',
  'stopping',
  'separation',
  'stop',
] as const
const OPTIONS = [
  'rig',
  'bus',
  'out',
  'seed',
  'realtime',
  'orders',
  'stand-in',
  'json',
  'ask',
  'for',
  'confirm',
  'joint',
  'unplug',
  'by',
  'angle',
  'frames',
  'clock-offset',
  'log-level',
  'phases',
  'directions',
  'cruise',
  'motion',
  'detection',
  'help',
  'version',
] as const

/** @param message of yargs, @param args what stood on the command line */
export function usageError(message: string, args: readonly string[]): DrystrokeError {
  const said = explained(message, args)
  return new DrystrokeError('usage', said.includes('--help') ? said : `${said}\n\nSee drystroke --help.`)
}

function explained(message: string, args: readonly string[]): string {
  const [first = ''] = args
  if (/^Unknown command/.test(message) || !isOneOf(first, COMMANDS)) {
    if (first === '' || first.startsWith('-')) return message
    return suggest(`There is no command ${first}; expected ${COMMANDS.join(', ')}`, first, COMMANDS)
  }
  const bare = /^Not enough arguments following: (.+)/.exec(message)
  if (bare) return `--${bare[1]} stands without a value; expected one behind it.`
  const stranger = args.find((a) => /^--?[^-\d]/.test(a) && !isOneOf(optionIn(a), OPTIONS))
  if (stranger !== undefined && /^(Unknown argument|Not enough non-option)/.test(message)) {
    const found = /^-*[^=]*/.exec(stranger)![0]
    return suggest(`There is no option ${found}`, optionIn(stranger), OPTIONS, '--')
  }
  if (/^Not enough non-option/.test(message))
    return `Say which ${first === 'judge' ? 'recording' : 'scenario'}: see drystroke ${first} --help.`
  const unknown = /^Unknown arguments?: ([^,]+)/.exec(message)
  return unknown ? `drystroke ${first} has no option --${unknown[1]}.` : message
}

/** `--no-json`, `--json=1` are json. */
function optionIn(argument: string): string {
  return argument.replace(/^--?(no-)?/, '').replace(/=.*/, '')
}

function isOneOf(found: string, valid: readonly string[]): boolean {
  return valid.includes(found)
}

function suggest(said: string, found: string, valid: readonly string[], dashes = ''): string {
  // In a short name two letters that changed places are as much as another name.
  const letters = (name: string): string => [...name].sort().join('')
  const near = nearest(found, valid) ?? valid.find((name) => letters(name) === letters(found))
  return near === undefined ? `${said}.` : `${said}; ${didYouMean(`${dashes}${near}`)}`
}
