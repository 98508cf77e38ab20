/** First-in first-out scheduling for the loop's own thread, and what the system really gave (Linux: sched(7), proc(5)). */
import { spawnSync } from 'node:child_process'
import { readFileSync, readlinkSync } from 'node:fs'

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
    // `PID/task/TID`
    const thread = readlinkSync('/proc/thread-self').split('/').at(-1)!
    chrt('--all-tasks', '--pid', String(priority - 1), String(process.pid))
    chrt('--pid', String(priority), thread)
  } catch {
    // No such thread: no Linux.
  }
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
}

/**
 * Asks for what the loop may have.
 * @param asked by the rig
 * @param guardian null: simulated arms, which have none
 * @returns what was asked for and what was granted, in the words of the event `process`
 */
export function scheduleLoop(
  asked: boolean,
  guardian: { readonly fifo: number | null } | null,
  system: Scheduling,
): { bench: string; guardian: string; says: string } {
  // A loop that does not let go must not be above the one who ends it.
  const below = guardian === null || guardian.fifo !== null
  if (asked && below) system.askForFifo(FIFO_PRIORITY)
  const bench = system.schedulingNow()
  const says = !asked
    ? 'The rig does not ask for first-in first-out scheduling.'
    : !below
      ? 'The guardian was not granted its priority, so the bench process asked for none: other programs can hold the loop up.'
      : bench.startsWith('SCHED_FIFO')
        ? 'First-in first-out scheduling was asked for and granted.'
        : 'First-in first-out scheduling was asked for and not granted: other programs can hold the loop up.'
  if (!guardian) return { bench, guardian: 'none', says: `${says} Simulated arms have no guardian.` }
  return { bench, guardian: guardian.fifo === null ? 'normal' : `SCHED_FIFO ${guardian.fifo}`, says }
}
