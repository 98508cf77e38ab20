/** What the guardian saw and did: kept in memory while the arms are stopped, written down only after that. */
import { closeSync, fsyncSync, openSync, renameSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import type { Nanos } from '../../clock.js'
import { GUARDIAN_FILE, type GuardianEvent } from '../../files/guardian-event.js'
import { confirmed, type Halted } from '../halt.js'

/** More than any stop makes; a bus that chatters must not fill the memory. */
const MOST = 1000

export class Evidence {
  readonly #events: GuardianEvent[] = []

  add(event: GuardianEvent): void {
    if (this.#events.length < MOST) this.#events.push(event)
  }

  /** Closes the account and writes it under its name only once it is whole. Without a folder nothing is written. */
  write(folder: string | null, drives: readonly Halted[], t: Nanos): void {
    const events = [...this.#events, ...accountOf(drives, t)]
    if (folder === null) return
    const path = join(folder, GUARDIAN_FILE)
    const file = openSync(`${path}.part`, 'w')
    try {
      writeSync(file, events.map((e) => `${JSON.stringify(e)}\n`).join(''))
      fsyncSync(file)
    } finally {
      closeSync(file)
    }
    renameSync(`${path}.part`, path)
  }
}

function accountOf(drives: readonly Halted[], t: Nanos): GuardianEvent[] {
  const rest = drives.map((d) => d.since)
  const all = rest.every((since) => since !== null)
  return [
    ...drives.map(
      ({ place, state, off, since, sag }): GuardianEvent => ({
        kind: 'drive',
        t,
        place,
        state,
        off,
        still: since,
        sag,
      }),
    ),
    {
      kind: 'end',
      t,
      confirmed: drives.filter(confirmed).length,
      drives: drives.length,
      still: all ? Math.max(...rest) : null,
    },
  ]
}
