/** Opens the buses of a rig that are not in memory, and takes them over from a process that is gone. */
import type { Clock } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { BusAddress } from '../files/bus-address.js'
import type { BusSettings } from '../files/rig.js'
import type { Adapter, AdapterSettings } from './adapter.js'
import type { ByteLine } from './byte-line.js'
import { isPseudoTerminal, openSerial, serialHeir } from './serial.js'
import { SlcanBus } from './slcan.js'
import { canSystem, SocketCanBus } from './socketcan.js'
import { openTcp, TcpLine } from './tcp.js'

/**
 * @param settings of a bus whose address is not `mock`
 * @param options.listenOnly every frame to be sent is refused as `not permitted`
 * @throws DrystrokeError `bus-access`: no such device, not permitted, in use, nobody there, refused
 */
export async function openBus(
  settings: BusSettings,
  clock: Clock,
  { listenOnly = false }: { readonly listenOnly?: boolean } = {},
): Promise<Adapter> {
  const { address } = settings
  if (address.kind === 'slcan') {
    return named(settings, async () =>
      SlcanBus.open(await openLine(settings), { ...adapterSettings(settings), listenOnly }, clock),
    )
  }
  if (address.kind === 'socketcan') {
    const { interface: name } = address
    return named(settings, () => new SocketCanBus(name, adapterSettings(settings), clock, canSystem(name)))
  }
  throw new DrystrokeError('defect', `bus ${settings.name}: a bus in memory is not opened`)
}

/** The line to an adapter, as it is; the stand-in serves simulated arms on the other end of such a line. */
export function openLine({ address, serialRate }: BusSettings): Promise<ByteLine> {
  if (address.kind !== 'slcan')
    throw new DrystrokeError('defect', `a bus of kind ${address.kind} has no line`)
  return 'device' in address ? openSerial(address.device, serialRate) : openTcp(address.host, address.port)
}

/** What an adapter needs of a bus's settings. */
export function adapterSettings({ name, address, bitrate, serialRate, queue }: BusSettings): AdapterSettings {
  return { name, bitrate, queue, serialRate: isSerial(address) ? serialRate : Number.POSITIVE_INFINITY }
}

/** Behind a port whose rate is real. */
function isSerial(address: BusAddress): boolean {
  return address.kind === 'slcan' && 'device' in address && !isPseudoTerminal(address.device)
}

/**
 * Makes ready to go on with a bus when the process that opened it is gone: all that can fail or take time is done now. A CAN
 * interface is opened now, a channel of its own beside that process's.
 * @param descriptor of the open line, inherited from that process; null: it had none. See `Adapter.descriptor`
 * @returns takes over: may be called once, when that process can send no more
 * @throws DrystrokeError `bus-access`
 */
export async function prepareTakeover(
  settings: BusSettings,
  descriptor: number | null,
  clock: Clock,
): Promise<() => Adapter> {
  const { address, name } = settings
  if (address.kind === 'socketcan') {
    const bus = await openBus(settings, clock)
    return () => bus
  }
  if (address.kind !== 'slcan' || descriptor === null) {
    throw new DrystrokeError('defect', `bus ${name}: there is no line to take over`)
  }
  const inherit = 'device' in address ? await serialHeir() : TcpLine.inherit
  const place = 'device' in address ? address.device : `${address.host}:${address.port}`
  return () => SlcanBus.takeOver(inherit(descriptor, place), adapterSettings(settings), clock)
}

/** Says in the message which bus it is. */
async function named<T>({ name }: BusSettings, open: () => Promise<T> | T): Promise<T> {
  try {
    return await open()
  } catch (error) {
    if (!(error instanceof DrystrokeError) || error.code !== 'bus-access') throw error
    throw new DrystrokeError(
      'bus-access',
      `bus ${name}: ${error.message}`,
      { ...error.context, bus: name },
      error,
    )
  }
}
