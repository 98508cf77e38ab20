/** Listens to a rig's buses: a fold over frames and reports that gives a picture. It sends nothing. */
import { type BusCapacity, busCapacities } from '../bus/capacity.js'
import type { BusReport } from '../bus/contract.js'
import type { Nanos } from '../clock.js'
import type { BusState, BusTrouble } from '../files/event.js'
import type { Rig } from '../files/rig.js'
import { Histogram } from '../watch/histogram.js'
import { Decoder } from '../wire/decoder.js'
import type { Frame } from '../wire/frame.js'
import type { NodeState, ReportedState, WireObservation } from '../wire/observation.js'
import type { Answer, BusPicture, JointPicture, Picture, Refusal, Traffic } from './picture.js'

interface JointSeen {
  count: number
  last: Nanos
  readonly periods: Histogram
  state: ReportedState | null
  position: number | null
  heartbeats: number
  node: NodeState | null
  emergency: number | null
  booted: boolean
}

interface BusSeen {
  frames: number
  bits: number
  state: BusState
  transmitErrors: number | null
  receiveErrors: number | null
  readonly troubles: Map<BusTrouble, { count: number; says: string }>
  readonly unknown: Map<number, number>
  readonly masters: Map<number, number>
  readonly strangers: Map<number, NodeState>
}

/** What an `Asker` leaves. */
interface Asked {
  readonly answers: readonly (Answer | null)[]
  readonly refusals: readonly ReadonlyMap<Refusal, number>[]
}

/** Marks extended identifiers among keys. */
const EXTENDED = 2 ** 29
/**
 * Frames that come in batches: half of a joint's periods are this share of their mean or shorter, because the time stands
 * in the gaps between batches (common practice, no source).
 */
const BATCHED = 0.3
/** Periods from which that can be told. */
const ENOUGH = 20

export class Listener {
  readonly #rig: Rig
  readonly #decoder: Decoder
  readonly #joints: JointSeen[]
  readonly #buses: BusSeen[]
  readonly #capacities: readonly BusCapacity[]
  #extended = false

  constructor(rig: Rig) {
    this.#rig = rig
    this.#decoder = new Decoder(rig, (o) => this.#see(o))
    this.#joints = rig.joints.map(() => ({
      count: 0,
      last: Number.NaN,
      periods: new Histogram(),
      state: null,
      position: null,
      heartbeats: 0,
      node: null,
      emergency: null,
      booted: false,
    }))
    this.#capacities = busCapacities(rig)
    this.#buses = rig.buses.map(() => ({
      frames: 0,
      bits: 0,
      state: 'active',
      transmitErrors: null,
      receiveErrors: null,
      troubles: new Map(),
      unknown: new Map(),
      masters: new Map(),
      strangers: new Map(),
    }))
  }

  frame(bus: number, frame: Frame, t: Nanos): void {
    this.#extended = frame.extended
    this.#decoder.see(bus, frame, t, false)
  }

  report(bus: number, report: BusReport): void {
    const seen = this.#buses[bus]!
    seen.state = report.state
    seen.transmitErrors = report.transmitErrors ?? seen.transmitErrors
    seen.receiveErrors = report.receiveErrors ?? seen.receiveErrors
    if (report.trouble === null) return
    const before = seen.troubles.get(report.trouble)?.count ?? 0
    seen.troubles.set(report.trouble, { count: before + 1, says: report.says })
  }

  /**
   * @param length s, how long was listened
   * @param asked what came of asking the drives
   * @param restarts by bus, ms, see `BusPicture.restart`
   */
  picture(length: number, asked: Asked | null = null, restarts: readonly (number | null)[] = []): Picture {
    return {
      length,
      buses: this.#buses.map((seen, b) => this.#bus(seen, b, length, asked, restarts[b] ?? null)),
      joints: this.#joints.map((seen, j) => this.#joint(seen, j, length, asked?.answers[j] ?? null)),
    }
  }

  #see(o: WireObservation): void {
    switch (o.kind) {
      case 'frame': {
        const bus = this.#buses[o.bus]!
        bus.frames++
        bus.bits += o.bits
        return
      }
      case 'feedback': {
        const joint = this.#joints[o.joint]!
        if (joint.count++ > 0) joint.periods.add((o.t - joint.last) / 1e9)
        joint.last = o.t
        joint.position = o.position
        return
      }
      case 'state':
        this.#joints[o.joint]!.state = o.state
        return
      case 'heartbeat':
        this.#heartbeat(o.bus, o.node, o.joint, o.state)
        return
      case 'emergency':
        this.#joints[o.joint]!.emergency = o.code
        return
      case 'foreign':
        count(this.#buses[o.bus]!.masters, this.#key(o.id))
        return
      case 'strange':
        count(this.#buses[o.bus]!.unknown, this.#key(o.id))
        return
    }
  }

  #heartbeat(bus: number, node: number, joint: number, state: NodeState): void {
    if (joint < 0) {
      this.#buses[bus]!.strangers.set(node, state)
      return
    }
    const seen = this.#joints[joint]!
    seen.node = state
    if (state === 'boot-up') seen.booted = true
    else seen.heartbeats++
  }

  #key(id: number): number {
    return this.#extended ? id + EXTENDED : id
  }

  #bus(seen: BusSeen, b: number, length: number, asked: Asked | null, restart: number | null): BusPicture {
    const { name, bitrate } = this.#rig.buses[b]!
    const traffic = (counts: Map<number, number>): Traffic[] =>
      [...counts]
        .sort(([a], [z]) => a - z)
        .map(([key, n]) => ({ id: key % EXTENDED, extended: key >= EXTENDED, rate: n / length }))
    const { frames, bits, state, transmitErrors, receiveErrors } = seen
    return {
      ...{ name, frames, state, transmitErrors, receiveErrors },
      load: bits / (bitrate * length),
      troubles: [...seen.troubles].map(([trouble, t]) => ({ trouble, ...t })),
      unknown: traffic(seen.unknown),
      masters: traffic(seen.masters),
      strangers: [...seen.strangers].map(([node, s]) => ({ node, state: s })),
      batches: this.#batches(b, length),
      capacity: this.#capacities[b]!,
      refusals: [...(asked?.refusals[b] ?? [])].map(([why, n]) => ({ why, count: n })),
      restart,
    }
  }

  /** s between batches, or null. */
  #batches(b: number, length: number): number | null {
    const times = this.#joints.flatMap(({ count, periods }, j) => {
      if (this.#rig.joints[j]!.wire.bus !== b || count < ENOUGH) return []
      return periods.quantile(0.5) < (BATCHED * length) / count ? [periods.quantile(0.99)] : []
    })
    return times.length === 0 ? null : Math.max(...times)
  }

  #joint(seen: JointSeen, j: number, length: number, answer: Answer | null): JointPicture {
    const { name, limits, wire } = this.#rig.joints[j]!
    const position = seen.position ?? (answer?.answered ? answer.position : null)
    return {
      name,
      bus: wire.bus,
      feedback: {
        count: seen.count,
        rate: seen.count / length,
        p50: seen.periods.quantile(0.5),
        p99: seen.periods.quantile(0.99),
      },
      state: seen.state ?? (answer?.answered ? answer.state : null),
      position,
      inside: position === null ? null : position >= limits.lower && position <= limits.upper,
      heartbeat: { count: seen.heartbeats, rate: seen.heartbeats / length, state: seen.node },
      emergency: seen.emergency,
      booted: seen.booted,
      answer,
    }
  }
}

function count(counts: Map<number, number>, key: number): void {
  counts.set(key, (counts.get(key) ?? 0) + 1)
}
