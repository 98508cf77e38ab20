/**
 * The two sides beside each other, from their blades alone: the phase between them where the rig couples them, how fast one gains on the other beside what
 * the command asks for, and whether each does what the other should.
 *
 * Phases are compared where blades go fast: `together` both pass the middle of the drive at once, and that of the recovery; `alternating` one
 * passes the one while the other passes the other. Astern a stroke runs backwards, and the marks are the same. Sides that are coupled
 * come into step within some strokes of a steady command, and are nearer to it after each of them; once there, they stay. With `free` sides no phase is asked for, but each has
 * the cadence of its own speed: the difference of the two is what one may gain on the other.
 *
 * A rig with one side only has nothing to compare. Of several arms at a side the first one counts.
 */
import type { Figure, Stage } from '../files/event.js'
import type { ShownUnit } from '../units.js'
import type { WatchSettings } from './settings.js'
import { SideStrokes } from './side-strokes.js'
import { drifting, outOfStep, swapped } from './sides-findings.js'
import type { Observation, Watch, WatchContext } from './watch.js'

/** Strokes of either side from which cadences are compared: a sample's time is a thousandth of two. */
const LEAST_STROKES = 2
/** Of the way of the one blade, what the other must have gone at least to be taken for swapped with it. */
const LESSER = 0.25
/** Marks a stroke, two of each side. So many in a row that are near enough are a stroke in step: single ones are passed on the way there. */
const MARKS = 4
/** Who comes into step at all is nearer after a stroke than he was at any time in it; what noise makes of those who do not. */
const NEARER = 0.98
/** Share of a stroke: sides that are farther out of step may go either way round, and grow farther apart at first. */
const OPPOSITE = 0.35

export class SidesWatch implements Watch {
  readonly kinds = ['feedback', 'sync', 'command', 'stage', 'stop'] as const
  readonly seen: boolean
  readonly #c: WatchContext<WatchSettings['sides']>
  /** Port, starboard; empty: one of them has no arm */
  readonly #sides: readonly SideStrokes[]
  /** By joint: 0 port, 1 starboard, -1 neither; and its place in the arm. */
  readonly #side: Int32Array
  readonly #place: Int32Array
  readonly #coupled: boolean
  readonly #alternating: boolean
  #stage: Stage | null = null
  #steady = false
  /** The sides have been in step since the command is steady. */
  #inStep = false
  /** Marks since then that were compared, and how many of them in a row were near enough. */
  #marks = 0
  #near = 0
  /** Share of a stroke by which they were out of step at the marks before, the newest first; NaN: not since then */
  readonly #before = new Float64Array(MARKS).fill(Number.NaN)
  #sum = 0
  #worst = 0
  #judged = 0
  /** strokes a minute; NaN: not known */
  #drift = Number.NaN
  #worstDrift = 0
  #driftLimit = 0
  #told = 0

  constructor(context: WatchContext<WatchSettings['sides']>) {
    this.#c = context
    const { rig } = context
    const both = (['port', 'starboard'] as const).filter((side) => rig.arms.some((a) => a.side === side))
    this.#sides = both.length === 2 ? both.map((side) => new SideStrokes(rig, side)) : []
    this.seen = both.length === 2
    this.#side = Int32Array.from(rig.joints, ({ index }) =>
      this.#sides.findIndex(({ joints }) => joints.includes(index)),
    )
    this.#place = Int32Array.from(rig.joints, (j) => rig.arms[j.arm]!.joints.indexOf(j.index))
    this.#coupled = rig.stroke.sides !== 'free'
    this.#alternating = rig.stroke.sides === 'alternating'
  }

  see(o: Observation): void {
    if (!this.seen) return
    switch (o.kind) {
      case 'feedback': {
        const side = this.#side[o.joint]!
        if (side < 0 || !this.#sides[side]!.view.feedback(this.#place[o.joint]!, o.index, o.position)) return
        if (this.#stage === 'play') this.#see(side, o.t)
        return
      }
      case 'sync':
        if (o.bus === 0 && this.#stage === 'play') this.#sync()
        return
      case 'command':
        for (const { demand } of this.#sides) demand.command(o.surge, o.yaw)
        // What comes in before the next SYNC still shows what was asked before.
        if (this.#steady && this.#sides.some(({ demand }) => demand.steady < this.#c.settings.settle)) {
          this.#steady = false
          this.#anew()
        }
        return
      case 'stage':
        this.#stage = o.stage
        if (o.stage !== 'park') for (const side of this.#sides) side.rest()
        this.#steady = false
        return
      case 'stop':
        this.#stage = 'stopping'
        return
    }
  }

  close(): void {}

  figures(): Figure[] {
    if (!this.seen) return []
    const rows: Figure[] = []
    const add = (name: string, value: number, unit: ShownUnit, limit: number | null): void => {
      rows.push({ place: '', name, value, unit, limit })
    }
    if (this.#coupled) {
      add('passes of the middle compared, in step', this.#judged, 'count', null)
      if (this.#judged > 0) {
        add('port ahead of its place beside starboard, mean', this.#sum / this.#judged, 'share', null)
        add('a side ahead of its place, at most', this.#worst, 'share', this.#c.settings.phase)
      }
    }
    if (!Number.isNaN(this.#drift)) {
      add('strokes a minute that port gains on starboard, beyond the command', this.#drift, 'none', null)
      add('strokes a minute that a side gains, at most', this.#worstDrift, 'none', this.#driftLimit)
    }
    return rows
  }

  /** Something else is asked for, or it has only just been. */
  #anew(): void {
    for (const side of this.#sides) side.anew()
    this.#inStep = false
    this.#marks = 0
    this.#before.fill(Number.NaN)
    this.#near = 0
    this.#told = 0
  }

  #sync(): void {
    const { settle } = this.#c.settings
    let changed = false
    let steady = true
    for (let i = 0; i < this.#sides.length; i++) {
      const side = this.#sides[i]!
      if (side.sync()) changed = true
      if (side.demand.steady < settle) steady = false
    }
    if (changed || steady !== this.#steady) this.#anew()
    this.#steady = steady
  }

  #see(i: number, t: number): void {
    const own = this.#sides[i]!
    const other = this.#sides[1 - i]!
    const reach = Math.min(own.demand.reach, other.demand.reach)
    const mark = own.see(t / 1e9, reach)
    if (!this.#steady) return
    if (this.#againstEachOther()) this.#tellSwapped(t)
    if (mark === 'none' || own.demand.wanted === 0 || other.demand.wanted === 0) return
    if (mark === 'recovery' && this.#eachOthersSpeed()) this.#tellSwapped(t)
    if (this.#coupled) this.#step(i, mark === 'drive', t)
    if (mark === 'drive') this.#gain(t)
  }

  /** A side has passed a middle: when was the other there? */
  #step(i: number, drive: boolean, t: number): void {
    const { settings } = this.#c
    const own = this.#sides[i]!
    const other = this.#sides[1 - i]!
    const here = drive ? own.drive : own.recovery
    const there = drive !== this.#alternating ? other.drive : other.recovery
    if (Number.isNaN(there)) return
    own.reference.at(own.demand.wanted, own.demand.reach)
    const late = (here - there) / own.reference.time
    const ahead = (late - Math.round(late)) * (i === 0 ? -1 : 1)
    const off = Math.abs(ahead)
    this.#marks++
    const stays = this.#stays(off)
    this.#near = off <= settings.phase ? this.#near + 1 : 0
    if (this.#near === MARKS && !this.#inStep) {
      this.#inStep = true
      // Who comes into step gains on the other: that is counted from here.
      for (const side of this.#sides) side.recount()
    }
    if (this.#inStep) {
      this.#judged++
      this.#sum += ahead
      if (off > this.#worst) this.#worst = off
    }
    const due = this.#inStep || this.#marks > MARKS * settings.strokes || stays
    if (off > settings.phase && due)
      this.#tell(1, () => outOfStep(settings.severity, ahead, settings.phase, this.#inStep), t)
  }

  /** Has a whole stroke brought them no nearer? @param off share of a stroke */
  #stays(off: number): boolean {
    const before = this.#before
    const { phase } = this.#c.settings
    // A comparison with NaN is false.
    const stays = before.every((b) => b > phase && b < OPPOSITE && off < OPPOSITE && off > NEARER * b)
    before.copyWithin(1, 0)
    before[0] = off
    return stays
  }

  #gain(t: number): void {
    const { settings, rig } = this.#c
    const [port, starboard] = this.#sides as [SideStrokes, SideStrokes]
    if (port.strokes < LEAST_STROKES || starboard.strokes < LEAST_STROKES) return
    if (this.#coupled && !this.#inStep) return
    // A speed cap slows both sides by the same share of a rate that is not known here.
    const alike = this.#coupled || Math.abs(port.demand.wanted) === Math.abs(starboard.demand.wanted)
    if (rig.motion.speedCap < 1 && !alike) return
    port.reference.at(port.demand.wanted, port.demand.reach)
    starboard.reference.at(starboard.demand.wanted, starboard.demand.reach)
    const [p, s] = [1 / port.reference.time, 1 / starboard.reference.time]
    const asked = alike ? 0 : p - s
    this.#drift = 60 * (port.cadence - starboard.cadence - asked)
    this.#driftLimit = 60 * settings.drift * Math.max(p, s)
    const off = Math.abs(this.#drift)
    if (off > this.#worstDrift) this.#worstDrift = off
    // Coupled sides that drift are out of step before long, and are told as such.
    if (!this.#coupled && off > this.#driftLimit)
      this.#tell(2, () => drifting(settings.severity, this.#drift, this.#driftLimit), t)
  }

  /** One goes astern where it should go ahead, or where it should rest, and the other the other way round. */
  #againstEachOther(): boolean {
    const { travel } = this.#c.settings
    const [port, starboard] = this.#sides as [SideStrokes, SideStrokes]
    const p = Math.sign(port.demand.wanted)
    const s = Math.sign(starboard.demand.wanted)
    if (p === s) return false
    const [most, least] = [travel, LESSER * travel]
    const far = Math.max(Math.abs(port.way), Math.abs(starboard.way))
    return far > most && did(port, s, least) && did(starboard, p, least)
  }

  /** Both the same way, but each as fast as the other should be. */
  #eachOthersSpeed(): boolean {
    const { speed } = this.#c.settings
    const [port, starboard] = this.#sides as [SideStrokes, SideStrokes]
    const [p, s] = [port.demand.wanted, starboard.demand.wanted]
    if (Math.abs(p - s) < 4 * speed * Math.max(Math.abs(p), Math.abs(s))) return false
    return (
      Math.abs(port.speed - s) < speed * Math.abs(s) && Math.abs(starboard.speed - p) < speed * Math.abs(p)
    )
  }

  #tellSwapped(t: number): void {
    const { rig, settings } = this.#c
    const [port, starboard] = this.#sides as [SideStrokes, SideStrokes]
    const opposed = Math.sign(port.demand.wanted) !== Math.sign(starboard.demand.wanted)
    const way = Math.max(Math.abs(port.way), Math.abs(starboard.way))
    const gap = Math.abs(port.speed - port.demand.wanted)
    const told = opposed
      ? () => swapped(way, settings.travel, 'm', rig.stop.category)
      : () => swapped(gap, settings.speed * Math.abs(port.demand.wanted), 'm/s', null)
    this.#tell(4, told, t)
  }

  /** Once for each steady command. */
  #tell(bit: number, words: () => ReturnType<typeof swapped>, t: number): void {
    if ((this.#told & bit) !== 0) return
    this.#told |= bit
    this.#c.report({ ...words(), place: '', t })
  }
}

/** Has the blade gone that way in the water, or for 0 not moved at all? */
function did({ way, moved }: SideStrokes, direction: number, least: number): boolean {
  return direction === 0 ? moved < least : way * direction > least
}
