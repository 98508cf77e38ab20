/**
 * A driver that owns the buses of a rig, in plain JavaScript: sets CiA 402 drives up by SDO, sends SYNC, enables them, and
 * sends setpoints of whoever leads. It knows nothing of the harness but what it is told. For tests, so it can also misbehave.
 *
 * Left out: reading its set-up back, aborts (a write is repeated until it is confirmed), limits of any kind.
 */

const SDO_AGAIN = 0.05
const COMMAND_AGAIN = 0.05
/** s on the way to where the lead starts */
const APPROACH = 4
const HARNESS_NODE = 127

const bytesOf = (value, bytes) =>
  Array.from({ length: bytes }, (_, i) => Math.floor(value / 2 ** (8 * i)) & 0xff)
const int32 = (d, at) => d[at] | (d[at + 1] << 8) | (d[at + 2] << 16) | (d[at + 3] << 24)

/** Statusword to the word that brings a drive a step nearer to operation enabled; undefined: nothing. */
function nextWord(status) {
  if ((status & 0x4f) === 0x08) return 0x80
  if ((status & 0x4f) === 0x40) return 0x06
  if ((status & 0x6f) === 0x21) return 0x07
  if ((status & 0x6f) === 0x23) return 0x0f
  return undefined
}
const enabled = (status) => (status & 0x6f) === 0x27
const follows = (status) => enabled(status) && (status & 0x1000) !== 0

export class OwningDriver {
  /**
   * @param rig { period (s), quickStop (rad/s2), window (rad), windowTimeout, heartbeat and heartbeatTimeout (ms), joints: [{ bus, node, countsPerRadian, sign, zero }], stopIds: [bus] }
   * @param send (bus, id, bytes) => void
   * @param lead { parkPose, begin(), step(command, out) }: setpoints (rad) for the next period
   * @param faults { ignoresStop, enablesAgain, neverEnables, restless (rad), ... }: what it does wrong
   */
  constructor(rig, send, lead, faults = {}) {
    this.rig = rig
    this.send = send
    this.lead = lead
    this.faults = faults
    this.order = 'stop'
    this.command = { surge: 0, yaw: 0 }
    this.drives = rig.joints.map((joint) => ({
      joint,
      writes: this.setUp(joint),
      askedAt: Number.NEGATIVE_INFINITY,
      status: 0,
      counts: null,
      told: undefined,
      toldAt: Number.NEGATIVE_INFINITY,
    }))
    this.out = new Float64Array(rig.joints.length)
    this.from = null
    this.way = 0
    this.led = 0
    this.leading = false
    this.started = false
    this.ticks = 0
  }

  setUp({ node, bus, countsPerRadian }) {
    const { rig } = this
    const pdo = (communication, mapping, id, type, mapped) => [
      [communication, 1, 0x80000000 + id, 4],
      [communication, 2, type, 1],
      [mapping, 0, 0, 1],
      ...mapped.map((word, i) => [mapping, i + 1, word, 4]),
      [mapping, 0, mapped.length, 1],
      [communication, 1, id, 4],
    ]
    return [
      [0x1017, 0, rig.heartbeat, 2],
      ...(this.faults.noHeartbeat ? [] : [[0x1016, 1, HARNESS_NODE * 65536 + rig.heartbeatTimeout, 4]]),
      [0x1029, 1, 0, 1],
      [0x6007, 0, 3, 2],
      [0x605a, 0, this.faults.quickStopOption ?? 2, 2],
      [0x605e, 0, 2, 2],
      [0x6085, 0, Math.round(rig.quickStop * countsPerRadian), 4],
      [0x6065, 0, Math.round(rig.window * countsPerRadian), 4],
      [0x6066, 0, rig.windowTimeout, 2],
      [0x6060, 0, 8, 1],
      [0x60c2, 1, Math.round(rig.period * 1000), 1],
      [0x60c2, 2, 0xfd, 1],
      ...pdo(0x1400, 0x1600, 0x200 + node, 1, [0x607a0020]),
      ...pdo(0x1401, 0x1601, 0x300 + node, 255, [0x60400010]),
      ...(this.faults.noStopPdo ? [] : pdo(0x1402, 0x1602, rig.stopIds[bus], 255, [0x60400010])),
      ...pdo(0x1800, 0x1a00, 0x180 + node, 1, [0x60410010, 0x60640020, 0x60770010]),
    ]
  }

  /** A frame came in. */
  hear(bus, id, data) {
    for (const drive of this.drives) {
      const { joint } = drive
      if (joint.bus !== bus) continue
      if (id === 0x580 + joint.node && data[0] === 0x60) {
        const [index, sub] = drive.writes[0] ?? []
        if (data[1] + 256 * data[2] !== index || data[3] !== sub) continue
        drive.writes.shift()
        drive.askedAt = Number.NEGATIVE_INFINITY
      } else if (id === 0x180 + joint.node && data.length === 8) {
        drive.status = data[0] | (data[1] << 8)
        drive.counts = int32(data, 2)
      }
    }
  }

  tell(order, command) {
    this.order = order
    this.command = command
  }

  /** Once a control period. @param t s */
  tick(t) {
    const buses = this.rig.stopIds.map((_, bus) => bus)
    if (this.ticks++ === 0) for (const bus of buses) this.send(bus, 0, [128, 0])
    // Nodes take their time to boot.
    if (this.ticks < 10) return
    if (!this.started) {
      if (this.drives.some((d) => d.writes.length > 0)) {
        for (const drive of this.drives) this.write(drive, t)
        return
      }
      this.started = true
      for (const bus of buses) this.send(bus, 0, [1, 0])
    }
    for (const bus of buses) if (!this.faults.noSync) this.send(bus, 0x80, [])
    if (this.drives.some((d) => d.counts === null)) return
    if (this.order === 'stop' && this.faults.ignoresStop) {
      this.setpoints()
      return
    }
    if (this.order === 'stop') {
      this.leading = false
      this.from = null
      if (this.faults.enablesAgain) this.enable(t)
      return
    }
    if (this.order === 'disable') {
      for (const drive of this.drives) if (enabled(drive.status)) this.control(drive, 0x06, t)
    } else this.enable(t)
    this.setpoints()
  }

  write(drive, t) {
    const [write] = drive.writes
    if (!write || t - drive.askedAt < SDO_AGAIN) return
    drive.askedAt = t
    const [index, sub, value, bytes] = write
    const command = 0x23 | ((4 - bytes) << 2)
    const data = [command, index & 0xff, index >> 8, sub, ...bytesOf(value, bytes), 0, 0, 0].slice(0, 8)
    this.send(drive.joint.bus, 0x600 + drive.joint.node, data)
  }

  enable(t) {
    if (this.faults.neverEnables) return
    for (const drive of this.drives) {
      const word = nextWord(drive.status)
      if (word !== undefined) this.control(drive, word, t)
    }
  }

  control(drive, word, t) {
    if (word === drive.told && t - drive.toldAt < COMMAND_AGAIN) return
    drive.told = word
    drive.toldAt = t
    this.send(drive.joint.bus, 0x300 + drive.joint.node, bytesOf(word, 2))
  }

  setpoints() {
    if (this.order === 'follow' || (this.from && this.faults.ignoresStop)) this.move()
    for (const [j, drive] of this.drives.entries()) {
      const { joint, status, counts } = drive
      drive.held = follows(status) ? (drive.held ?? counts) : undefined
      const led = this.from && follows(status)
      const target = led
        ? Math.round(joint.sign * (this.out[j] + this.trembling()) * joint.countsPerRadian + joint.zero)
        : (drive.held ?? counts)
      this.send(joint.bus, 0x200 + joint.node, bytesOf(target, 4))
    }
  }

  /** rad */
  trembling() {
    return (this.faults.restless ?? 0) * (1 - Math.cos(this.led / 20))
  }

  /** From where the arms were found to where the lead starts, then as the lead says. */
  move() {
    if (!this.from) {
      this.from = this.drives.map(
        ({ joint, counts, held }) => (joint.sign * ((held ?? counts) - joint.zero)) / joint.countsPerRadian,
      )
      this.way = 0
      this.led = 0
      this.leading = false
    }
    this.led++
    if (this.leading) {
      this.lead.step(this.command, this.out)
      return
    }
    this.way = Math.min(1, this.way + this.rig.period / APPROACH)
    const u = this.way
    const share = u ** 3 * (10 - 15 * u + 6 * u ** 2)
    this.out.set(this.from.map((q, j) => q + share * (this.lead.parkPose[j] - q)))
    if (this.way < 1) return
    this.leading = true
    this.lead.begin()
  }
}

/** What the driver is given of a rig, as the harness has it. */
export function rigFor({ control, link, joints, buses }) {
  return {
    period: control.period,
    quickStop: link.quickStop,
    heartbeat: Math.round(1000 * link.driveHeartbeat),
    window: link.window,
    windowTimeout: Math.round(1000 * link.windowTimeout),
    heartbeatTimeout: Math.round(1000 * link.heartbeatTimeout),
    stopIds: buses.map((bus) => bus.controlword),
    joints: joints.map(({ wire: { bus, node, countsPerRadian, sign, zero } }) => ({
      bus,
      node,
      countsPerRadian,
      sign,
      zero,
    })),
  }
}
