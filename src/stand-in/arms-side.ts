/** The arms' end of a rig's buses: where the harness connects, or the adapter's side of a line. */
import type { Bus, FrameListener, ReportListener, SendResult } from '../bus/contract.js'
import { adapterSettings, openBus, openLine } from '../bus/open.js'
import { listenSlcan, SlcanPeer } from '../bus/slcan-server.js'
import type { Clock } from '../clock.js'
import { DrystrokeError } from '../errors.js'
import type { BusState } from '../files/event.js'
import type { BusSettings } from '../files/rig.js'
import type { Frame } from '../wire/frame.js'

export interface ArmsSide {
  readonly bus: Bus
  close(): Promise<void> | void
}

/** Frames that a simulated bus of arms may have waiting: every joint's feedback and more. */
const QUEUE = 1024

/**
 * @param tell is given one sentence about clients that come and are sent away
 * @throws DrystrokeError `usage` for a mock bus, `bus-access`
 */
export async function openArmsSide(
  settings: BusSettings,
  clock: Clock,
  tell: (says: string) => void,
): Promise<ArmsSide> {
  const { name, address } = settings
  if (address.kind === 'mock') {
    throw new DrystrokeError(
      'usage',
      `Bus ${name} is a mock bus, which lives inside one process; say where the arms are to be served, such as --bus ${name}=slcan:tcp:127.0.0.1:${7001 + settings.index}`,
    )
  }
  if (address.kind === 'socketcan') {
    const bus = await openBus({ ...settings, queue: QUEUE }, clock)
    return { bus, close: () => bus.close() }
  }
  const ends = { ...adapterSettings(settings), queue: QUEUE }
  if ('device' in address) {
    const bus = new SlcanPeer(await openLine(settings), ends, clock)
    return { bus, close: () => bus.close() }
  }
  const socket = new Socket(name)
  const server = await listenSlcan(address.host, address.port, clock, (peer) => socket.plug(peer), {
    ...ends,
    onTurnedAway: (client) => tell(`${name}: ${client} was sent away, another one is connected`),
  })
  return { bus: socket, close: () => server.close() }
}

/** A bus that stays while those who connect to it come and go. Nobody there: frames are refused as `down`. */
class Socket implements Bus {
  readonly name: string
  #peer: Bus | null = null
  readonly #frames: FrameListener[] = []
  readonly #reports: ReportListener[] = []

  constructor(name: string) {
    this.name = name
  }

  plug(peer: Bus): void {
    this.#peer = peer
    peer.onFrame((frame, t) => {
      for (const hear of this.#frames) hear(frame, t)
    })
    peer.onReport((report, t) => {
      for (const hear of this.#reports) hear(report, t)
    })
  }

  get state(): BusState {
    return this.#peer?.state ?? 'down'
  }

  get waiting(): number {
    return this.#peer?.waiting ?? 0
  }

  send(frame: Frame): SendResult {
    return this.#peer?.send(frame) ?? 'down'
  }

  onFrame(listener: FrameListener): void {
    this.#frames.push(listener)
  }

  onReport(listener: ReportListener): void {
    this.#reports.push(listener)
  }

  /** Arms hear everything. */
  only(): void {}

  withdraw(): number {
    return this.#peer?.withdraw() ?? 0
  }

  close(): void {
    this.#peer?.close()
  }
}
