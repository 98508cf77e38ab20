/**
 * Before all tests: installs the Debian packages that some suites compare with, when it may (root and apt-get).
 * Otherwise those suites are skipped, and the command that would install the packages is printed; with CI=true the
 * run fails instead.
 */
import { spawnSync } from 'node:child_process'
import packages from './debian-packages.json' with { type: 'json' }
import { askAgain, missing } from './needs.js'

const INSTALL = ['install', '-y', '--no-install-recommends']

export default function setup(): void {
  let lacking = missing(packages)
  if (lacking.length === 0) return
  if (process.getuid?.() === 0 && spawnSync('apt-get', ['--version']).status === 0) {
    console.log(`Installing for the tests: ${lacking.join(' ')}`)
    aptGet('update')
    aptGet(...INSTALL, ...lacking)
    askAgain()
    lacking = missing(packages)
    if (lacking.length === 0) return
  }
  const command = `apt-get update && apt-get ${[...INSTALL, ...lacking].join(' ')}`
  if (process.env.CI === 'true') {
    throw new Error(
      `Debian packages are missing, and with CI=true no suite may be skipped. As root, run: ${command}`,
    )
  }
  console.log(
    `Suites that need these Debian packages are skipped: ${lacking.join(' ')}\nAs root, run: ${command}`,
  )
}

/** Output is shown only when it failed: a good installation is of no interest. */
function aptGet(...args: string[]): void {
  const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' }
  const { status, stdout, stderr } = spawnSync('apt-get', args, { env, encoding: 'utf8', maxBuffer: 1 << 28 })
  if (status !== 0) console.log(`apt-get ${args.join(' ')} ended with ${status}:\n${stdout}${stderr}`)
}
