/** The built command line, called as a person calls it. */
import { spawnSync } from 'node:child_process'

const MAIN = new URL('../../dist/cli/main.js', import.meta.url).pathname

export function drystroke(...args: string[]): { status: number | null; stdout: string; stderr: string } {
  return spawnSync(process.execPath, [MAIN, ...args], {
    encoding: 'utf8',
    maxBuffer: 1 << 26,
    timeout: 300_000,
  })
}
