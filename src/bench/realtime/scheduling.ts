/** First-in first-out scheduling for the loop's own thread, and what the system really gave (Linux: sched(7), proc(5)). */
import { spawnSync } from 'node:child_process'
import { readFileSync, readlinkSync } from 'node:fs'
import type { RealtimeSettings } from '../../files/rig.js'

/** Of 1 to 99, the highest first: below the guardian's, which must get through when the loop does not let go. */
const FIFO_PRIORITY = 50

/**
 * Asks for it, for V8's helper threads as well: its garbage collector waits until each of them has come to a halt, and at
 * normal priority on a busy machine that takes tens of milliseconds. Whether it was granted says `schedulingNow`.
 */
export function askForFifo(priority: number): void {
  const chrt = (...given: string[]): unknown =>
    spawnSync('chrt', ['--fifo', ...given], { stdio: 'ignore', timeout: 5000 })
  try {
    const thread = ownThread()
    chrt('--all-tasks', '--pid', String(priority - 1), String(process.pid))
    chrt('--pid', String(priority), thread)
  } catch {
    // No such thread: no Linux.
  }
}

/**
 * Keeps the loop to one processor, so that it can be one which nothing else of the machine uses, and V8's helper threads with
 * it: they compile for milliseconds at a time, below the loop but above all that has normal priority, such as the workers of the
 * kernel that carry the bytes of serial ports. Whether it was granted says `processorsNow` (taskset(1)).
 */
export function keepToProcessor(processor: number): void {
  const given = ['--all-tasks', '--cpu-list', '--pid', String(processor), String(process.pid)]
  spawnSync('taskset', given, { stdio: 'ignore', timeout: 5000 })
}

/** Those that the loop's thread may run on, as the system lists them: `1`, `0-3`; `not known` where it does not say. */
export function processorsNow(): string {
  try {
    const status = readFileSync('/proc/thread-self/status', 'utf8')
    return /^Cpus_allowed_list:\s*(\S+)$/m.exec(status)?.[1] ?? 'not known'
  } catch {
    return 'not known'
  }
}

/** @throws where there is no Linux */
function ownThread(): string {
  // `PID/task/TID`
  return readlinkSync('/proc/thread-self').split('/').at(-1)!
}

/** @returns `SCHED_FIFO 50`, `normal`, or `not known` where the system does not say */
export function schedulingNow(): string {
  try {
    return schedulingIn(readFileSync('/proc/thread-self/stat', 'utf8'))
  } catch {
    return 'not known'
  }
}

/** @param stat line of /proc/PID/stat: fields 40 and 41 are priority and policy; the name in field 2 may hold anything */
export function schedulingIn(stat: string): string {
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ')
  const [priority, policy] = [fields[40 - 3], fields[41 - 3]]
  if (policy === '1') return `SCHED_FIFO ${priority}`
  if (policy === '2') return `SCHED_RR ${priority}`
  return policy === undefined ? 'not known' : 'normal'
}

/** What a loop asks the system for, and what it is told. */
export interface Scheduling {
  readonly askForFifo: (priority: number) => void
  readonly schedulingNow: () => string
  readonly keepToProcessor: (processor: number) => void
  readonly processorsNow: () => string
}

/**
 * Asks for what the loop may have.
 * @param wanted by the rig
 * @param guardian null: simulated arms, which have none
 * @returns what was asked for and what was granted, in the words of the event `process`
 */
export function scheduleLoop(
  wanted: Pick<RealtimeSettings, 'fifo' | 'processor'>,
  guardian: { readonly fifo: number | null } | null,
  system: Scheduling,
): { bench: string; guardian: string; says: string } {
  // A loop that does not let go must not be above the one who ends it.
  const below = guardian === null || guardian.fifo !== null
  if (wanted.fifo && below) system.askForFifo(FIFO_PRIORITY)
  const { processor } = wanted
  if (processor !== null) system.keepToProcessor(processor)
  const bench = system.schedulingNow()
  const granted = !wanted.fifo
    ? 'The rig does not ask for first-in first-out scheduling.'
    : !below
      ? 'The guardian was not granted its priority, so the bench process asked for none: other programs can hold the loop up.'
      : bench.startsWith('SCHED_FIFO')
        ? 'First-in first-out scheduling was asked for and granted.'
        : 'First-in first-out scheduling was asked for and not granted: other programs can hold the loop up.'
  const place = processor === null ? '' : ` ${placeSays(processor, system.processorsNow())}`
  const says = `${granted}${place}`
  if (!guardian) return { bench, guardian: 'none', says: `${says} Simulated arms have no guardian.` }
  return { bench, guardian: guardian.fifo === null ? 'normal' : `SCHED_FIFO ${guardian.fifo}`, says }
}

function placeSays(wanted: number, allowed: string): string {
  if (allowed === String(wanted)) return `The loop keeps to processor ${wanted}.`
  return `Processor ${wanted} was asked for the loop and not granted: it may run on ${allowed}.`
}
