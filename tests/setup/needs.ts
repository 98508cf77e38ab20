/** Which Debian packages are installed: suites that compare with a program of the system ask here whether they can run. */
import { spawnSync } from 'node:child_process'

const known = new Map<string, boolean>()

/** True when every package is installed. Synchronous, so that `describe.skipIf(!needs('tshark'))` can be written. */
export function needs(...packages: string[]): boolean {
  return missing(packages).length === 0
}

/** Those of the packages that are not installed; all of them where there is no dpkg. Asks dpkg once a package. */
export function missing(packages: readonly string[]): string[] {
  const unasked = packages.filter((p) => !known.has(p))
  if (unasked.length > 0) {
    // Exit status 1 only says that one of them is unknown; the lines of the others are good.
    // biome-ignore lint/suspicious/noTemplateCurlyInString: dpkg-query's own notation
    const format = '${Package} ${db:Status-Status}\\n'
    const { stdout } = spawnSync('dpkg-query', ['-W', '-f', format, ...unasked], { encoding: 'utf8' })
    const lines = new Set((stdout ?? '').split('\n'))
    for (const p of unasked) known.set(p, lines.has(`${p} installed`))
  }
  return packages.filter((p) => !known.get(p))
}

/** To be called after something was installed. */
export function askAgain(): void {
  known.clear()
}
