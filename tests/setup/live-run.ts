/**
 * A real-time run as the bench process plays it, with the parent that writes it down, in virtual time and in one process:
 * buses are mock buses behind addresses of real ones, the guardian counts its beats.
 */

import { Keeper } from '../../src/bench/realtime/keeper.js'
import { type Message, MessageReader, type Report } from '../../src/bench/realtime/message.js'
import type { Outside } from '../../src/bench/realtime/outside.js'
import { BACKLOG } from '../../src/bench/realtime/play.js'
import { RealtimeRun } from '../../src/bench/realtime/run.js'
import type { BenchEvent } from '../../src/files/event.js'
import { resolvedRigText, resolvedScenarioText } from '../../src/files/resolved-text.js'
import type { JointLink } from '../../src/link/link.js'
import { recordingFolder } from '../../src/record/folder.js'
import { provenanceNow } from '../../src/record/provenance.js'
import { RecordingFiles } from '../../src/record/write.js'
import type { GuardianRequest } from '../../src/stop/guardian/start.js'
import type { Halted } from '../../src/stop/halt.js'
import { watchSchemas } from '../../src/watch/settings.js'
import { Workbench } from './bench.js'
import { change, DEMO_RIG, eventsOf, scenarioText } from './runs.js'

/** ns between two words of the parent on how much is written. */
const TOLD_EVERY = 100e6
const STEP = 1e6

/** The demo rig with its buses on adapters. */
export const LIVE_RIG = change(
  change(DEMO_RIG, 'address: mock', 'address: "slcan:tcp:127.0.0.1:7001"'),
  'address: mock',
  'address: "slcan:tcp:127.0.0.1:7002"',
)

export interface LiveOptions {
  /** Where the recording comes to lie. */
  readonly outDir: string
  readonly scenario?: string
  readonly rigText?: string
  readonly backlog?: number
  readonly outside?: Partial<Outside>
}

export class LiveRun {
  readonly table: Workbench
  readonly run: RealtimeRun
  readonly files: RecordingFiles
  readonly keeper: Keeper
  readonly reports: Report[] = []
  /** Of the guardian, by its own account. */
  readonly guardian = { started: 0, beats: 0, goodByes: 0, reports: 0, obeyed: 0 }
  /** What the guardian was told of the drives last. */
  told: readonly Halted[] = []
  /** Rolling counters of stop frames, as the guardian was told with the last beat. */
  counts: Readonly<JointLink['stopCounts']> = null
  /** Another terminal wants a stop before the run knows of its guardian. */
  askedEarly = false
  guarding: GuardianRequest | null = null
  /** The process of the driver that the guardian was told of. */
  guarded: number | null = null
  ended = false
  /** Nothing is taken from the bench process: it comes later, when this is false again. */
  frozen = false
  #closed = false
  readonly #late: Uint8Array[] = []
  readonly #reader: MessageReader<Report>
  #parentGone = false

  constructor({
    outDir,
    scenario = scenarioText('slow-ahead'),
    rigText = LIVE_RIG,
    backlog = BACKLOG,
    outside,
  }: LiveOptions) {
    this.table = new Workbench(rigText)
    const texts = {
      rigText: resolvedRigText(rigText, watchSchemas),
      scenarioText: resolvedScenarioText(scenario),
    }
    const { rig, time } = this.table
    const provenance = provenanceNow({ rigFile: 'rig.yaml', scenarioFile: 'scenario.yaml', arms: 'real' })
    this.files = RecordingFiles.create(recordingFolder(outDir, 'live'), { ...texts, provenance })
    this.#reader = new MessageReader<Report>((message) => this.#hear(message))
    this.keeper = new Keeper(this.files, (order) => {
      if (order.kind === 'written') this.run.onWritten(order.length)
      else if (order.kind === 'unwritten') this.run.onUnwritten(order.says)
    })
    this.run = new RealtimeRun(
      {
        ...texts,
        ...{
          rigFile: 'rig.yaml',
          scenarioFile: 'scenario.yaml',
          seed: 1,
          standIn: null,
          jog: false,
          hold: false,
        },
        ...{ drives: null, backlog, stopMark: '' },
      },
      (bytes) => this.#send(bytes),
      {
        time: () => ({
          now: () => time.now(),
          at: (t, task) => time.at(t, task),
          stop: () => {},
          base: [0, 0],
        }),
        openBus: async ({ index }) =>
          Object.defineProperty(this.table.host(index), 'descriptor', { value: null }) as never,
        openModemLines: async () => {
          throw new Error(`no box at ${rig.name}`)
        },
        startGuardian: async (request) => {
          this.guarding = request
          const { guardian } = this
          guardian.started++
          if (this.askedEarly) request.onStopAsked()
          return {
            ...{
              pid: 1,
              fifo: null,
              driver: (pid: number) => (this.guarded = pid),
              obeyed: () => guardian.obeyed++,
            },
            beat: (counts) => {
              guardian.beats++
              this.counts = counts ?? null
            },
            report: (drives) => {
              guardian.reports++
              this.told = drives
            },
            end: async () => {
              guardian.goodByes++
            },
          }
        },
        askForFifo: () => {},
        schedulingNow: () => 'normal',
        keepToProcessor: () => {},
        processorsNow: () => '0-1',
        markedSince: () => false,
        warmUp: () => {},
        settle: () => {},
        openDriver: async () => {
          throw new Error(`no driver but the reference driver at ${rig.name}`)
        },
        ...outside,
      },
    )
    const telling = (): void => {
      if (this.#closed) return
      if (!this.frozen && !this.#parentGone) this.keeper.tell()
      time.at(time.now() + TOLD_EVERY, telling)
    }
    telling()
  }

  get folder(): string {
    return this.files.folder
  }

  get now(): number {
    return this.table.time.now()
  }

  /** s since scenario zero, as last told; 0 before. */
  get scenarioTime(): number {
    const last = this.reports.findLast((r) => r.kind === 'progress')
    return last?.kind === 'progress' ? (last.scenarioTime ?? 0) : 0
  }

  /** What is recorded so far. */
  get events(): BenchEvent[] {
    return eventsOf(this.folder)
  }

  get stage(): string | null {
    const last = this.reports.findLast((r) => r.kind === 'progress')
    return last?.kind === 'progress' ? last.stage : null
  }

  async begin(): Promise<void> {
    await this.run.prepare()
    await this.run.begin(this.folder, () => {
      this.ended = true
    })
  }

  /** Time goes on until it is so. @throws when it has not come to that after three minutes */
  async until(done: () => boolean): Promise<void> {
    const { time } = this.table
    for (const end = time.now() + 180e9; !done(); ) {
      if (time.now() > end) throw new Error(`it never came to that; the stage is ${this.stage}`)
      time.runUntil(time.now() + STEP)
      // The end of a run waits for its guardian.
      await Promise.resolve()
    }
  }

  async wait(seconds: number): Promise<void> {
    const end = this.now + seconds * 1e9
    await this.until(() => this.now >= end)
  }

  /** The parent takes what came meanwhile, and whatever comes from now on. */
  thaw(): void {
    this.frozen = false
    for (const bytes of this.#late.splice(0)) this.#reader.take(bytes)
    this.keeper.tell()
  }

  /** The parent dies; the bench process writes the rest itself. */
  orphan(): void {
    this.#parentGone = true
    this.#late.length = 0
    this.run.onParentLost(this.folder)
  }

  /** What parent or bench process do when the run is over. @throws what kept the recording from being written */
  close(): void {
    this.#closed = true
    if (this.#parentGone) this.run.close()
    else this.keeper.close(false)
  }

  async play(): Promise<void> {
    await this.begin()
    await this.until(() => this.ended)
    this.close()
  }

  #send(bytes: Uint8Array): void {
    if (this.#parentGone) return
    if (this.frozen) this.#late.push(Uint8Array.from(bytes))
    else this.#reader.take(bytes)
  }

  #hear(message: Message<Report>): void {
    if (message.kind === 'records') this.keeper.write(message.frames, message.events)
    else this.reports.push(message)
  }
}
