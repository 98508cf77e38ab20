/** A run with the driver that its rig names: met before anything else is done, let go of whatever became of the run. */
import { dirname, resolve } from 'node:path'
import type { Driver } from '../driver/contract.js'
import { openDriver } from '../driver/link/open.js'
import type { Rig } from '../files/rig.js'

export interface DriverRequest {
  readonly rig: Rig
  readonly rigFile: string
  /** Each line that a driver under test says for people. */
  readonly onSaid?: ((line: string) => void) | undefined
}

/**
 * @param play is handed undefined when the rig names the reference driver
 * @throws DrystrokeError `driver-access`; whatever `play` throws
 */
export async function withDriver<T>(
  request: DriverRequest,
  play: (driver: Driver | undefined) => Promise<T>,
): Promise<T> {
  const { rig, rigFile, onSaid } = request
  const { link } = rig.driver
  // Who owns the buses takes another part, or none.
  if (!link || link.ownsBus) return play(undefined)
  const driver = await openDriver(link, { rig, folder: folderOf(rigFile), onSaid })
  try {
    return await play(driver)
  } finally {
    await driver.close()
  }
}

/** In which a driver's process runs. */
export function folderOf(rigFile: string): string {
  return dirname(resolve(rigFile))
}
