/** Whether a CAN interface comes back by itself from bus-off: only the system's own program for interfaces tells. */
import { spawnSync } from 'node:child_process'

/** ms; it answers at once, or not at all */
const PATIENCE = 2000

/**
 * @param run asks that program; in tests another
 * @returns ms after which the interface comes back, 0: never; null: it has no such setting, or nobody says
 */
export function canRestart(name: string, run: (name: string) => string | null = askSystem): number | null {
  const shown = run(name)
  if (shown === null) return null
  try {
    const found: unknown = JSON.parse(shown)
    const [link] = found as { linkinfo?: { info_kind?: string; info_data?: { restart_ms?: unknown } } }[]
    const { info_kind: kind, info_data: settings } = link?.linkinfo ?? {}
    // Kinds without a controller, such as vcan, have none to restart.
    if (kind !== 'can') return null
    return typeof settings?.restart_ms === 'number' ? settings.restart_ms : null
  } catch {
    return null
  }
}

/** In the form of iproute2's `ip`, where that is installed. */
function askSystem(name: string): string | null {
  const asked = spawnSync('ip', ['-details', '-json', 'link', 'show', name], {
    encoding: 'utf8',
    timeout: PATIENCE,
  })
  return asked.status === 0 ? asked.stdout : null
}
