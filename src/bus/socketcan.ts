/**
 * A CAN interface of Linux, by way of npm socketcan.
 *
 * The package sends by a system call at once. It says only that a frame was refused, so the reason is looked for in what the
 * system shows of the interface. Frames are stamped by the kernel; those that it had before it was asked for stamps have the time of
 * their reading, which can be later than the next one's. When the link goes down its reading ends, and a new channel is made
 * when the link is back. It aborts the process in a worker thread: main threads only.
 */
import { createRequire } from 'node:module'
import { type Clock, later } from '../clock.js'
import type { DrystrokeError } from '../errors.js'
import { type CanError, canError } from '../wire/can-error.js'
import type { Frame } from '../wire/frame.js'
import { Adapter, type AdapterSettings } from './adapter.js'
import { type CanLink, canCarrier, canLink } from './can-link.js'
import type { Filter, SendResult } from './contract.js'
import { KernelTime, type WallStamp } from './kernel-time.js'
import { noBus } from './no-bus.js'

export interface CanMessage extends WallStamp {
  readonly id: number
  readonly ext?: boolean
  readonly rtr?: boolean
  readonly err?: boolean
  readonly data: Buffer
}

/** As much of the package's channel as is used. */
export interface CanChannel {
  addListener(event: 'onMessage', callback: (message: CanMessage) => void): void
  addListener(event: 'onStopped', callback: () => void): void
  start(): void
  /** Waits up to 100 ms for the package's thread. */
  stop(): void
  /** Gives the message the wall clock's time. @returns bytes sent, -1: refused */
  send(message: WallStamp & { id: number; ext: boolean; rtr: boolean; data: Buffer }): number
  setRxFilters(filters: readonly { id: number; mask: number; invert?: boolean }[]): void
}

export interface CanSystem {
  /** Throws, without a reason, when the interface cannot be had. */
  channel(name: string): CanChannel
  link(name: string): CanLink
  /** Of a link that is up: false when its controller is off the bus. */
  carrier(name: string): boolean
}

/** How often the link is looked at. ms */
const LOOK_AGAIN = 50
/** Frame format: of linux/can.h. */
const CAN_EFF_FLAG = 0x80000000

export class SocketCanBus extends Adapter {
  /** It opens one of its own wherever it is needed. */
  readonly descriptor = null
  readonly #interface: string
  readonly #system: CanSystem
  readonly #kernelTime = new KernelTime()
  #channel: CanChannel | null
  /** Channels from before the link went down that have not stopped by themselves; they are not listened to. */
  readonly #old = new Set<CanChannel>()
  #only: readonly Filter[] | null = null
  #look: (() => void) | null = null

  /** @throws DrystrokeError `bus-access` */
  constructor(name: string, settings: AdapterSettings, clock: Clock, system: CanSystem) {
    super(settings, clock, 'active')
    this.#interface = name
    this.#system = system
    const link = system.link(name)
    if (link === 'missing' || link === 'not CAN' || link === 'down')
      throw refusal(name, link, settings.bitrate)
    this.#channel = this.#open()
    if (!system.carrier(name)) this.become('bus-off', `${name} is off the bus`)
    this.#watch()
  }

  protected get held(): number {
    return 0
  }

  protected hand({ id, extended, remote, data }: Frame): SendResult {
    if (this.#channel === null) return 'down'
    const bytes = Buffer.from(data.buffer, data.byteOffset, data.length)
    const message: Parameters<CanChannel['send']>[0] = { id, ext: extended, rtr: remote, data: bytes }
    const before = this.now()
    try {
      if (this.#channel.send(message) >= 0) {
        this.#kernelTime.compare(message, before, this.now())
        this.left({ id, extended, remote, data })
        return 'sent'
      }
    } catch {
      // A channel that has become invalid throws; the reason is found below all the same.
    }
    return this.#reason()
  }

  /** Frames are in the kernel's hands as soon as they are handed over. */
  protected takeBack(): number {
    return 0
  }

  protected override narrow(filters: readonly Filter[] | null): void {
    this.#only = filters
    if (this.#channel) setFilters(this.#channel, filters)
  }

  protected end(): void {
    this.#look?.()
    this.#look = null
    if (this.#channel) this.#old.add(this.#channel)
    this.#channel = null
    for (const channel of this.#old) {
      try {
        channel.stop()
      } catch {
        // It has stopped by itself.
      }
    }
  }

  #open(): CanChannel {
    let channel: CanChannel
    try {
      channel = this.#system.channel(this.#interface)
      setFilters(channel, this.#only)
      channel.addListener('onMessage', (message) => {
        if (this.#channel === channel) this.#hear(message)
      })
      channel.addListener('onStopped', () => {
        this.#old.delete(channel)
        if (this.#channel !== channel) return
        this.#channel = null
        if (!this.closed) this.#lost(this.#system.link(this.#interface))
      })
      channel.start()
    } catch (cause) {
      const found = 'the interface cannot be opened'
      throw noBus(this.#interface, found, `look at "ip -details link show ${this.#interface}"`, cause)
    }
    return channel
  }

  #hear(message: CanMessage): void {
    const { id, ext, rtr, err, data } = message
    const t = this.stamp(this.#kernelTime.of(message, this.now()))
    if (err) this.#error(canError(id, data))
    else this.deliver({ id, extended: ext ?? false, remote: rtr ?? false, data: new Uint8Array(data) }, t)
  }

  #error({ state, troubles, ...counters }: CanError): void {
    if (state !== null) this.become(state, `the controller of ${this.#interface} is ${state}`, counters)
    for (const trouble of troubles) {
      this.trouble(trouble, `the controller of ${this.#interface} reports: ${trouble}`, counters)
    }
  }

  /** Why a frame was refused. */
  #reason(): SendResult {
    const link = this.#system.link(this.#interface)
    if (link === 'up') {
      if (this.#system.carrier(this.#interface)) return 'queue full'
      this.become('bus-off', `${this.#interface} is off the bus`)
      return 'bus-off'
    }
    this.#lost(link)
    return link === 'down' ? 'down' : 'no such interface'
  }

  #lost(link: CanLink): void {
    if (link === 'missing' || link === 'not CAN') this.become('gone', `${this.#interface} is no longer there`)
    else this.become('down', `${this.#interface} is down`)
  }

  /**
   * The package tells that the link went down, but late, or never when a frame was about to be read just then: its reading takes
   * the error for the end of what there was. And nobody tells that it is up again. So it is looked at.
   */
  #watch(): void {
    this.#look = later(LOOK_AGAIN, () => {
      const link = this.#system.link(this.#interface)
      if (link !== 'up') this.#lost(link)
      else if (this.state === 'down' && this.#reopened()) {
        const carrier = this.#system.carrier(this.#interface)
        this.become(
          carrier ? 'active' : 'bus-off',
          `${this.#interface} is up again; nothing is sent by itself`,
        )
      }
      if (this.state !== 'gone' && !this.closed) this.#watch()
    })
  }

  /** With a new channel, also where the old one has not told that it stopped: it may yet do so. */
  #reopened(): boolean {
    try {
      const channel = this.#open()
      if (this.#channel) this.#old.add(this.#channel)
      this.#channel = channel
      return true
    } catch {
      return false
    }
  }
}

function setFilters(channel: CanChannel, filters: readonly Filter[] | null): void {
  if (filters === null) channel.setRxFilters([{ id: 0, mask: 0 }])
  // The package cannot set an empty list: what does not match everything matches nothing.
  else if (filters.length === 0) channel.setRxFilters([{ id: 0, mask: 0, invert: true }])
  else {
    channel.setRxFilters(
      filters.map(({ id, mask, extended }) => ({
        id: ((extended ? id | CAN_EFF_FLAG : id) & ~0x60000000) >>> 0,
        mask: ((mask | CAN_EFF_FLAG) & ~0x60000000) >>> 0,
      })),
    )
  }
}

function refusal(name: string, link: 'missing' | 'not CAN' | 'down', bitrate: number): DrystrokeError {
  const up = `"ip link set ${name} type can bitrate ${bitrate} restart-ms 100", then "ip link set ${name} up"`
  if (link === 'missing') {
    return noBus(
      name,
      'no such interface',
      'see whether the adapter is plugged in; "ip link" lists what there is',
    )
  }
  if (link === 'not CAN') return noBus(name, 'this is no CAN interface', '"ip link show type can" lists them')
  return noBus(name, 'the interface is down', `as root: ${up}`)
}

/**
 * The package, loaded when it is first needed.
 * @param require for tests: where it would come from
 * @throws DrystrokeError `bus-access`: it is not there
 */
export function canSystem(
  name: string,
  require: (id: string) => unknown = createRequire(import.meta.url),
): CanSystem {
  if (process.platform !== 'linux') {
    throw noBus(name, 'SocketCAN is a part of Linux', 'use an slcan adapter, or a Linux machine')
  }
  let module: {
    createRawChannelWithOptions(
      name: string,
      options: { timestamps: boolean; non_block_send: boolean },
    ): CanChannel
  }
  try {
    module = require('socketcan') as typeof module
  } catch (cause) {
    throw noBus(
      name,
      'the package "socketcan" is not installed: it is optional, and left out without a word where it cannot be built',
      'install make, a C++ compiler and Python, then run "npm install" again and read what it says of socketcan',
      cause,
    )
  }
  return {
    // Without waiting: a full queue must not hold up what else is to be stopped.
    channel: (interfaceName) =>
      module.createRawChannelWithOptions(interfaceName, { timestamps: true, non_block_send: true }),
    link: canLink,
    carrier: canCarrier,
  }
}
