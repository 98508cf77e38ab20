/** A run with the driver that its rig names: met before anything else is done, let go of whatever became of the run. */
import { dirname, resolve } from 'node:path'
import type { Driver } from '../driver/contract.js'
import { openDriver } from '../driver/link/open.js'
import { DrystrokeError } from '../errors.js'
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
  if (!link) return play(undefined)
  refuseUnreachableBuses(rig)
  const driver = await openDriver(link, { rig, folder: folderOf(rigFile), onSaid })
  try {
    return await play(driver)
  } finally {
    await driver.close()
  }
}

/** @throws DrystrokeError `usage`: a driver of another process cannot drive buses that are within this one */
export function refuseUnreachableBuses({ driver: { link }, buses }: Rig): void {
  const mock = buses.find(({ address }) => address.kind === 'mock')
  if (!link?.ownsBus || !mock) return
  throw new DrystrokeError(
    'usage',
    `The rig's driver owns the buses (driver.owns-bus), and ${mock.name} is a mock bus within this process, which it cannot reach; expected buses that both can open: start drystroke stand-in --rig R with --bus and --driver-bus, and run with --bus and --stand-in`,
  )
}

/** In which a driver's process runs. */
export function folderOf(rigFile: string): string {
  return dirname(resolve(rigFile))
}
