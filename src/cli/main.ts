#!/usr/bin/env node
/** The command line: reads arguments, calls a command, turns what it says into an exit status. */
import { readFileSync } from 'node:fs'
import yargs from 'yargs'
import { DrystrokeError, EXIT, type ExitStatus } from '../errors.js'
import { COMMANDS, cruise, directions, length, phases, place, seed, time, usageError } from './options.js'

const VERSION: string = JSON.parse(
  readFileSync(new URL('../../package.json', import.meta.url), 'utf8'),
).version

const LOG_LEVELS = ['silent', 'fatal', 'error', 'warn', 'info', 'debug', 'trace'] as const

const logLevel = {
  choices: LOG_LEVELS,
  default: 'warn' as const,
  describe: 'least level of the log lines on standard error',
}
const rig = {
  type: 'string',
  requiresArg: true,
  coerce: place('rig'),
  describe: 'rig file, such as rigs/reservoir-skiff.yaml',
} as const

const bus = {
  type: 'string',
  array: true,
  requiresArg: true,
  nargs: 1,
  default: [] as string[],
  defaultDescription: 'as the rig says',
  describe: 'where a bus is for this once: NAME=ADDRESS, or mock for all; may be given again',
} as const

const SEED = {
  type: 'string',
  requiresArg: true,
  default: '1',
  defaultDescription: '1',
  coerce: seed,
  describe: 'whole number; the same seed gives the same bytes',
} as const

/** Each command loads its engine only when it is called, so that --help is quick. */
async function main(args: string[]): Promise<ExitStatus> {
  let status: ExitStatus = EXIT.pass
  const parser = yargs(args)
    .scriptName('drystroke')
    .usage(
      '$0 <command>\n\nPlays velocity commands to paddling arms on dry land, watches them, and gives a verdict.',
    )
    .command(
      'run <scenario..>',
      'play scenarios and give a verdict on each',
      (y) =>
        y
          .positional('scenario', {
            type: 'string',
            array: true,
            demandOption: true,
            describe:
              'scenario files or folders of them; the word demo: the scenarios and the rig of the demo',
          })
          .options({
            rig,
            bus,
            out: {
              type: 'string',
              requiresArg: true,
              default: 'recordings',
              coerce: place('out'),
              describe: 'folder for the recordings, one each scenario; none is ever written over',
            },
            seed: SEED,
            realtime: {
              type: 'boolean',
              default: false,
              describe: 'play by the clock on the wall, as every run on a real bus does',
            },
            'stand-in': {
              type: 'string',
              requiresArg: true,
              coerce: place('stand-in'),
              describe: 'the arms are the stand-in with this --orders socket, which is told the faults',
            },
            json: { type: 'boolean', default: false, describe: 'verdicts as JSON on standard output' },
            confirm: {
              type: 'string',
              requiresArg: true,
              describe: "the rig's name: real arms may move, without being asked",
            },
            'log-level': logLevel,
          })
          .example('$0 run demo', 'the demo, on simulated arms')
          .example(
            '$0 run scenarios --rig rigs/reservoir-skiff.yaml --out /tmp/runs',
            'a folder of scenarios',
          ),
      async (a) => {
        const { run } = await import('./commands/run.js')
        status = await run({ ...a, scenarios: a.scenario, standIn: a.standIn, logLevel: a.logLevel })
      },
    )
    .command(
      'check <scenario..>',
      'check files and the reach of the whole stroke, without running',
      (y) =>
        y
          .positional('scenario', {
            type: 'string',
            array: true,
            demandOption: true,
            describe: 'scenario files or folders of them; the word demo: those of the demo',
          })
          .options({ rig, bus, json: { type: 'boolean', default: false, describe: 'the result as JSON' } })
          .example('$0 check scenarios --rig rigs/reservoir-skiff.yaml', 'the demo files'),
      async (a) => {
        const { check } = await import('./commands/check.js')
        status = check({ ...a, scenarios: a.scenario })
      },
    )
    .command(
      'envelope [scenario..]',
      'how fast in every direction, what gives out first, and where commands lie; nothing runs',
      (y) =>
        y
          .positional('scenario', {
            type: 'string',
            array: true,
            default: [] as string[],
            defaultDescription: 'none',
            describe: 'scenarios whose commands are placed: files, folders, or the word demo',
          })
          .options({
            rig,
            bus,
            directions: {
              type: 'string',
              requiresArg: true,
              default: '48',
              defaultDescription: '48',
              coerce: directions,
              describe: 'how many from standstill outward, evenly all around; corners come on top',
            },
            cruise: {
              type: 'string',
              requiresArg: true,
              coerce: cruise,
              describe:
                'a command, such as "0.4 m/s" or "0.4 m/s, 5 deg/s": what speed, cadence, power and endurance to expect of it afloat',
            },
            out: {
              type: 'string',
              requiresArg: true,
              coerce: place('out'),
              describe: 'page to write: FILE.html, or a folder for envelope.html',
            },
            json: { type: 'boolean', default: false, describe: 'the result as JSON' },
          })
          .example(
            '$0 envelope scenarios --rig rigs/reservoir-skiff.yaml --out envelope.html',
            'the demo rig, with a page',
          )
          .example('$0 envelope --rig rigs/reservoir-skiff.yaml --cruise "0.4 m/s"', 'how far on one charge'),
      async (a) => {
        const { envelope } = await import('./commands/envelope.js')
        status = envelope({ ...a, scenarios: a.scenario })
      },
    )
    .command(
      'jog',
      'with a person beside the arms: confirm each joint and the hard-wired stop',
      (y) =>
        y
          .options({
            rig: { ...rig, demandOption: true },
            bus,
            joint: {
              type: 'string',
              array: true,
              requiresArg: true,
              nargs: 1,
              default: [] as string[],
              defaultDescription: 'all, and the hard-wired stop',
              describe: 'only this joint, such as port.elbow; may be given again',
            },
            unplug: {
              type: 'string',
              requiresArg: true,
              describe: 'instead: pull the plug of this bus, and see its drives stop without a host',
            },
            'hard-stop': {
              type: 'boolean',
              default: false,
              describe: 'instead: only the hard-wired stop, and its overall stopping time',
            },
            by: { type: 'string', requiresArg: true, describe: 'name of the person who confirms' },
            angle: {
              type: 'string',
              requiresArg: true,
              default: '5 deg',
              describe: 'how far each joint moves; at most 5 deg',
            },
            realtime: {
              type: 'boolean',
              default: false,
              describe: 'simulated arms by the clock on the wall, as every real arm is moved',
            },
            'stand-in': {
              type: 'string',
              requiresArg: true,
              coerce: place('stand-in'),
              describe: 'the arms are the stand-in with this --orders socket: a rehearsal',
            },
            out: {
              type: 'string',
              requiresArg: true,
              default: 'recordings',
              coerce: place('out'),
              describe: 'folder for the recordings of what was moved',
            },
            confirm: {
              type: 'string',
              requiresArg: true,
              describe: 'name of the rig: its real arms may move, and nobody is asked for it',
            },
          })
          .example('$0 jog --rig rigs/reservoir-skiff.yaml --bus mock', 'a rehearsal on simulated arms'),
      async (a) => {
        const { jog } = await import('./commands/jog.js')
        status = await jog({ ...a, standIn: a.standIn, hardStop: a.hardStop })
      },
    )
    .command(
      'judge <recording>',
      'work out the verdict of a recording anew and write its reports',
      (y) =>
        y
          .positional('recording', { type: 'string', demandOption: true, describe: 'folder that a run left' })
          .options({
            json: { type: 'boolean', default: false, describe: 'print exactly the bytes of verdict.json' },
            frames: {
              type: 'string',
              requiresArg: true,
              coerce: place('frames'),
              describe: "candump log (candump -L) to judge in place of the recording's own frames",
            },
            'clock-offset': {
              type: 'string',
              requiresArg: true,
              coerce: time('clock-offset'),
              describe: "the log's clock when the run began; default: found from frames that both have",
            },
          })
          .example('$0 judge recordings/slow-ahead', 'verdict, junit.xml and report.html of that run')
          .example('$0 judge recordings/slow-ahead --frames can.log', 'the same run as candump saw it'),
      async (a) => {
        const { judge } = await import('./commands/judge.js')
        status = judge({ ...a, folder: a.recording })
      },
    )
    .command(
      'stand-in',
      "serve a rig's simulated arms on a real bus or over TCP, for another process to try",
      (y) =>
        y
          .options({
            rig,
            bus,
            'driver-bus': {
              type: 'string',
              array: true,
              requiresArg: true,
              nargs: 1,
              default: [] as string[],
              defaultDescription: 'none',
              describe: 'NAME=ADDRESS: a bus served at a second place, for a driver that owns the buses',
            },
            seed: SEED,
            orders: {
              type: 'string',
              requiresArg: true,
              coerce: place('orders'),
              describe: 'Unix socket to make: takes the same orders as standard input, and those of a run',
            },
            json: { type: 'boolean', default: false, describe: 'what the arms truly do, a JSON line each' },
          })
          .example(
            '$0 stand-in --rig R --bus port-can=slcan:tcp:127.0.0.1:7001',
            'one bus over TCP; the harness joins with the same --bus',
          ),
      async (a) => {
        const { standIn } = await import('./commands/stand-in.js')
        status = await standIn({ ...a, driverBus: a.driverBus })
      },
    )
    .command(
      'survey',
      "listen to a rig's buses: who speaks, what is missing, what to look at first",
      (y) =>
        y
          .options({
            rig,
            bus,
            ask: {
              type: 'boolean',
              default: false,
              describe: 'also read identity, state and position of each drive by SDO: this sends',
            },
            for: {
              type: 'string',
              requiresArg: true,
              default: '3 s',
              defaultDescription: '3 s',
              coerce: time('for'),
              describe: 'how long to listen, such as "10 s"',
            },
            json: { type: 'boolean', default: false, describe: 'the whole picture as JSON' },
          })
          .example('$0 survey --rig R --ask', 'before the first run on new wiring'),
      async (a) => {
        const { survey } = await import('./commands/survey.js')
        status = await survey({ ...a, length: a.for })
      },
    )
    .command(
      'stopping',
      'measure how the simulated arms of a rig stop, all along the stroke',
      (y) =>
        y
          .options({
            rig,
            phases: {
              type: 'string',
              requiresArg: true,
              default: '24',
              defaultDescription: '24',
              coerce: phases,
              describe:
                'places of the stroke at which the arms are stopped, at each of 33, 66 and 100 % of speed, ahead, astern and in a pivot to port and to starboard: 12 stops a place, 288 stops in all if left out',
            },
            motion: {
              type: 'string',
              requiresArg: true,
              choices: ['ahead', 'astern', 'pivot'] as const,
              describe:
                'only this motion, pivot both ways; 3 stops a place, of a pivot 6; left out: all of them, and the worst case is over all',
            },
            seed: {
              type: 'string',
              requiresArg: true,
              default: '1',
              defaultDescription: '1',
              coerce: seed,
              describe: 'whole number; the same seed gives the same table',
            },
            out: {
              type: 'string',
              requiresArg: true,
              coerce: place('out'),
              describe: 'folder for the recordings, one each stop; left out: none are kept',
            },
            json: { type: 'boolean', default: false, describe: 'the table, and each stop, as JSON' },
          })
          .example('$0 stopping --rig rigs/reservoir-skiff.yaml', 'time, joint travel and blade travel'),
      async (a) => {
        const { stopping } = await import('./commands/stopping.js')
        status = await stopping(a)
      },
    )
    .command(
      'separation',
      'a separation distance from the overall stopping time of the hard-wired stop',
      (y) =>
        y
          .options({
            rig,
            bus,
            detection: {
              type: 'string',
              requiresArg: true,
              coerce: length('detection'),
              describe: 'what the protective device detects (d), at most 40 mm',
            },
            json: { type: 'boolean', default: false, describe: 'the result as JSON' },
          })
          .example('$0 separation --rig my-rig.yaml --detection "14 mm"', 'an aid, not an assessment'),
      async (a) => {
        const { separation } = await import('./commands/separation.js')
        status = separation(a)
      },
    )
    .command(
      'stop',
      'stop the arms of a rig from another terminal, and say which drives confirmed',
      (y) =>
        y
          .options({ rig, bus })
          .example('$0 stop --rig rigs/my-rig.yaml', 'whoever plays on that rig, or nobody at all'),
      async (a) => {
        const { stop } = await import('./commands/stop.js')
        status = await stop(a)
      },
    )
    .demandCommand(1, `Say which command: ${COMMANDS.join(', ')}. See drystroke --help.`)
    .strict()
    .version(VERSION)
    .help()
    .wrap(Math.min(100, process.stdout.columns ?? 80))
    .exitProcess(false)
    .fail((message, error) => {
      // A wrong use is an error of yargs' own; ours and real defects go their way.
      throw error === undefined || error.name === 'YError' ? usageError(message, args) : error
    })
  await parser.parseAsync()
  return status
}

// A reader that has seen enough (`| head`) closes the pipe: the command goes on to its end and its status.
for (const stream of [process.stdout, process.stderr]) {
  stream.on('error', (error: NodeJS.ErrnoException) => {
    // EIO: the terminal was closed. A run that leads arms goes on to its stop.
    if (error.code === 'EPIPE' || error.code === 'EIO') return
    process.stderr.write(`The result cannot be written out: ${error.message}\n`)
    process.exit(EXIT.incomplete)
  })
}

try {
  process.exitCode = await main(process.argv.slice(2))
} catch (error) {
  const known = error instanceof DrystrokeError
  process.stderr.write(
    known ? `${error.message}\n` : `A defect of Drystroke, please report it:\n${stackOf(error)}\n`,
  )
  process.exitCode = known ? error.exitStatus : EXIT.defect
}

function stackOf(error: unknown): string {
  return error instanceof Error ? (error.stack ?? error.message) : String(error)
}
