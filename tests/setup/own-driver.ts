/** The demo rig led by a program, and the end of processes. */
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { OVAL } from './example-drivers.mjs'
import { change, DEMO_RIG } from './runs.js'

const path = (name: string): string => fileURLToPath(new URL(`../../${name}`, import.meta.url))

export const broken = (how: string): string[] => ['node', path('tests/system/drivers/broken.mjs'), how]

/** @param more lines of the driver's section */
export function rigWith(run: readonly string[], more: readonly string[] = [], rig = DEMO_RIG): string {
  return rigBy(['kind: process', `run: ${JSON.stringify(run)}`, ...more], rig)
}

/** @param lines of the driver's section */
export function rigBy(lines: readonly string[], rig = DEMO_RIG): string {
  const oval = change(rig, /^watch:( \{\}.*)?$/m, `watch:\n  ${OVAL}`)
  // As it stands: a dollar sign in a replacement would mean something.
  return change(oval, '  kind: reference\n', () => lines.map((line) => `  ${line}\n`).join(''))
}

/** A process that has died and that nobody has cleared away is there no more (proc(5)). */
function isThere(pid: number): boolean {
  try {
    return !/\) [ZX] /.test(readFileSync(`/proc/${pid}/stat`, 'utf8'))
  } catch {
    return false
  }
}

/** Until the process is gone; a test that waits for what never comes fails by its time. */
export async function gone(pid: number): Promise<void> {
  while (isThere(pid)) await new Promise((resolve) => setImmediate(resolve))
}
