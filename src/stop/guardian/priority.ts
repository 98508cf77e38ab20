/** A first-in first-out priority for this process, where the system grants it (sched(7)). */
import { spawnSync } from 'node:child_process'

/** ms */
const WITHIN = 2000

/** For all threads of this process, V8's too: a helper at normal priority would hold its main thread up. @returns granted */
export function raise(priority: number): boolean {
  const set = ['--all-tasks', '--fifo', '--pid', String(priority), String(process.pid)]
  // Without chrt, or without the right (CAP_SYS_NICE or a limit in rtprio), it stays as it is.
  return spawnSync('chrt', set, { stdio: 'ignore', timeout: WITHIN }).status === 0
}
