/** The buses of a rig and its emergency-stop box, for a real-time run: all of them are open, or none is. */
import type { Adapter } from '../../bus/adapter.js'
import type { Bus } from '../../bus/contract.js'
import type { openBus } from '../../bus/open.js'
import type { ModemPort, openModemLines } from '../../bus/serial.js'
import type { Clock } from '../../clock.js'
import { DrystrokeError } from '../../errors.js'
import type { Rig } from '../../files/rig.js'

/** An open bus whose line a guardian can inherit. */
export type LiveBus = Bus & Pick<Adapter, 'descriptor'>

export interface Openers {
  readonly openBus: (...given: Parameters<typeof openBus>) => Promise<LiveBus>
  readonly openModemLines: typeof openModemLines
}

/** @throws DrystrokeError `bus-access` of the first that cannot be opened; the others are closed again */
export async function openAll(
  rig: Rig,
  clock: Clock,
  { openBus }: Pick<Openers, 'openBus'>,
): Promise<LiveBus[]> {
  const tried = await Promise.allSettled(rig.buses.map((settings) => openBus(settings, clock)))
  const failed = tried.find((t) => t.status === 'rejected')
  const open = tried.flatMap((t) => (t.status === 'fulfilled' ? [t.value] : []))
  if (!failed) return open
  for (const bus of open) bus.close()
  throw failed.reason
}

/** @returns null: the rig has none. @throws DrystrokeError `bus-access` */
export async function openBox(
  { stopBox }: Rig,
  { openModemLines }: Pick<Openers, 'openModemLines'>,
): Promise<ModemPort | null> {
  if (!stopBox) return null
  try {
    return await openModemLines(stopBox.device)
  } catch (error) {
    if (!(error instanceof DrystrokeError)) throw error
    throw new DrystrokeError('bus-access', `stop-box: ${error.message}`, error.context, error)
  }
}

/** Simulated arms on one bus and real ones on another would be told apart by nobody. @throws DrystrokeError `usage` */
export function refuseMixed({ buses, name }: Rig): void {
  const mocks = buses.filter((b) => b.address.kind === 'mock')
  if (mocks.length === 0 || mocks.length === buses.length) return
  const others = buses.filter((b) => b.address.kind !== 'mock')
  throw new DrystrokeError(
    'usage',
    `The rig ${name} has ${mocks.map((b) => b.name).join(', ')} on the mock bus and ${others.map((b) => b.name).join(', ')} elsewhere; ` +
      'expected all buses simulated, or none. Say --bus mock, or give each bus its address with --bus NAME=ADDRESS.',
    { rig: name },
  )
}
