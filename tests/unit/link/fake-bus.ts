/** A bus in a test's hand: it keeps what was sent, answers as told and puts nothing on any wire. */
import type { Bus, FrameListener, SendResult } from '../../../src/bus/contract.js'
import { Cia402Drive } from '../../../src/link/cia402-drive.js'
import type { Drive } from '../../../src/link/drive.js'
import type { Frame } from '../../../src/wire/frame.js'

/** Such as `181: 02 00`. */
export const text = (f: Frame): string =>
  `${f.id.toString(16).padStart(3, '0')}: ${[...f.data].map((b) => b.toString(16).padStart(2, '0')).join(' ')}`.trim()

/** A drive of the link, known to speak CiA 402. */
export function cia402(drive: Drive): Cia402Drive {
  if (drive instanceof Cia402Drive) return drive
  throw new Error(`${drive.joint.name} does not speak CiA 402`)
}

export class FakeBus implements Bus {
  readonly name: string
  /** Frames that were taken, in order. */
  readonly sent: Frame[] = []
  /** What `send` answers; an error is thrown. */
  answer: SendResult | Error = 'sent'
  waiting = 0
  /** How often waiting frames were taken back. */
  withdrawals = 0
  onSend: (frame: Frame) => void = () => {}

  constructor(name: string) {
    this.name = name
  }

  send(frame: Frame): SendResult {
    if (this.answer instanceof Error) throw this.answer
    if (this.answer !== 'sent') return this.answer
    this.sent.push(frame)
    this.onSend(frame)
    return 'sent'
  }

  withdraw(): number {
    if (this.answer instanceof Error) throw this.answer
    this.withdrawals++
    const taken = this.waiting
    this.waiting = 0
    return taken
  }

  /** What was sent since the last call, as text. */
  take(): string[] {
    return this.sent.splice(0).map(text)
  }

  readonly state = 'active'
  onFrame(_: FrameListener): void {}
  only(): void {}
  onReport(): void {}
  close(): void {}
}
