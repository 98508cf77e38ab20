/**
 * A serial port as a line of bytes. Opening and settings come from npm serialport's port package; its streams are not used,
 * because they read and write in threads of libuv's pool.
 */
import { accessSync, close, constants, readSync, realpathSync, statSync } from 'node:fs'
import type { LinuxPortBinding } from '@serialport/bindings-cpp'
import { DescriptorLine, isForNow } from './byte-line.js'
import { noBus } from './no-bus.js'

/** An open port of the package: on Linux and macOS it has a descriptor, and a poller that tells when it can be read. */
type Port = Pick<LinuxPortBinding, 'fd' | 'poller'>

/**
 * Ports are never handed to the garbage collector: its clean-up would take the descriptor's number, which may be another
 * file's by then, out of the loop's list, and that file would fall silent.
 */
const kept = new Set<Port>()

export class SerialLine extends DescriptorLine {
  readonly #port: Port
  readonly #buffer = new Uint8Array(16384)

  constructor(port: Port, place: string) {
    super(port.fd ?? -1, place)
    kept.add(port)
    this.#port = port
    // Waiting to read is also how a hang-up is noticed.
    this.#wait()
  }

  protected lossBy(code: string): string {
    return `the port is gone, unplugged or hung up (${code})`
  }

  protected release(descriptor: number): void {
    this.#port.poller.stop()
    // In the pool, because closing may wait for what is still to be sent; nobody waits for it here.
    if (descriptor >= 0) close(descriptor, () => {})
  }

  #wait(): void {
    this.#port.poller.once('readable', (error) => {
      if (!this.open) return
      if (error) this.#hungUp()
      else if (this.#read()) this.#wait()
    })
  }

  /** Once an event, so that a flood leaves the loop its other work. */
  #read(): boolean {
    try {
      const count = readSync(this.descriptor, this.#buffer)
      // A port that is open in raw mode has nothing to say at its end but this.
      if (count === 0) this.#hungUp()
      else this.arrive(this.#buffer.subarray(0, count))
      return this.open
    } catch (error) {
      const { code } = error as NodeJS.ErrnoException
      if (isForNow(code)) return true
      this.lose(this.lossBy(code ?? String(error)))
      return false
    }
  }

  #hungUp(): void {
    this.lose(this.lossBy('hung up'))
  }
}

/**
 * @param rate bit/s
 * @throws DrystrokeError `bus-access`
 */
export async function openSerial(device: string, rate: number): Promise<SerialLine> {
  if (process.platform === 'win32') {
    throw noBus(
      device,
      'serial adapters need Linux or macOS',
      'join it over TCP instead (slcan:tcp:HOST:PORT)',
    )
  }
  const path = findPort(device)
  const { autoDetect } = await import('@serialport/bindings-cpp')
  try {
    // Locked: a second program that wrote on it would break lines in two. A child that inherits the descriptor shares the lock.
    const port = await autoDetect().open({ path, baudRate: rate, lock: true })
    return new SerialLine(port as unknown as Port, device)
  } catch (error) {
    const words = (error as Error).message
    throw noBus(
      device,
      `the port cannot be opened at ${rate} bit/s (${words})`,
      'see whether another program has it, or whether it does this rate',
      error,
    )
  }
}

/** A serial port of which only the modem lines are used. */
export interface ModemPort {
  get(): Promise<Readonly<Record<'cts' | 'dsr' | 'dcd', boolean>>>
  close(): Promise<void>
}

/**
 * Opens a port for its modem lines and switches RTS and DTR on: either feeds the contact of an emergency-stop box. Not
 * tried on hardware.
 * @throws DrystrokeError `bus-access`: also for a pseudo-terminal, which has no modem lines
 */
export async function openModemLines(device: string): Promise<ModemPort> {
  const path = findPort(device)
  const { autoDetect } = await import('@serialport/bindings-cpp')
  const port = await autoDetect()
    .open({ path, baudRate: 9600, lock: true })
    .catch((error: unknown) => {
      throw noBus(device, 'the port cannot be opened', 'see whether another program has it', error)
    })
  try {
    await port.set({ rts: true, dtr: true })
    await port.get()
  } catch (error) {
    await port.close()
    throw noBus(device, 'this port has no modem lines', 'name the port that the box is plugged into', error)
  }
  return { get: () => port.get(), close: () => port.close() }
}

/** These look like serial ports, but have no rate: what is written at one end is at the other at once. */
export function isPseudoTerminal(device: string): boolean {
  try {
    return realpathSync(device).startsWith('/dev/pts/')
  } catch {
    return false
  }
}

/** The device behind a link: the port package looks at names, and links to pseudo-terminals have others. */
function findPort(device: string): string {
  try {
    const path = realpathSync(device)
    if (!statSync(path).isCharacterDevice()) {
      throw noBus(device, 'this is no serial port', 'look at the name, such as /dev/ttyACM0')
    }
    accessSync(path, constants.R_OK | constants.W_OK)
    return path
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    if (code === 'ENOENT' || code === 'ENOTDIR') {
      throw noBus(
        device,
        'no such device',
        'see whether the adapter is plugged in, and under which name',
        error,
      )
    }
    if (code === 'EACCES' || code === 'EPERM') {
      const advice = 'put this user into the group that owns it (often dialout), then log in anew'
      throw noBus(device, 'not permitted', advice, error)
    }
    throw error
  }
}

/**
 * Makes ready to take over ports that this process inherited: afterwards nothing has to be loaded.
 * @returns takes over; the port's settings stay as they are
 */
export async function serialHeir(): Promise<(descriptor: number, place: string) => SerialLine> {
  const { DarwinPortBinding, LinuxPortBinding } = await import('@serialport/bindings-cpp')
  return (descriptor, place) => {
    // No options: they are only kept for being asked about.
    const port =
      process.platform === 'darwin'
        ? new DarwinPortBinding(descriptor, {} as never)
        : new LinuxPortBinding(descriptor, {} as never)
    return new SerialLine(port, place)
  }
}
