/**
 * The guardian, a process in a session of its own. It holds open ways to every bus of a rig, hears the bench process finish
 * its ticks, and stops the arms when it no longer does, or when another terminal asks and the bench process does not obey.
 *
 * Everything is loaded, opened and tried before it says that it is ready. After that it opens nothing, and the disk comes last.
 */
import { Socket } from 'node:net'
import { later, RealTime } from '../../clock.js'
import { driveNames, placesHere } from '../places.js'
import { ProcessGroup } from '../process-group.js'
import { Askers } from './askers.js'
import { BenchProcess } from './bench-process.js'
import { Evidence } from './evidence.js'
import { Guard, type GuardInput } from './fold.js'
import { looksFor } from './looks.js'
import { listenFor } from './meeting-place.js'
import { LineReader, lineOf, type ToBench, type ToGuardian } from './messages.js'
import { openOwnEnds } from './own-ends.js'
import { raise } from './priority.js'
import { rehearse } from './rehearsal.js'
import { type TakeoverParts, takeOver } from './takeover.js'

/** Above the bench process, which takes 50. */
const FIFO = 60
/** Of the line to the bench process; it gives the guardian what follows standard error. */
const BENCH = 3
/** A sign of life for the bench process, one in so many beats. */
const ANSWER_EVERY = 8

// The terminal's keys and its loss are the bench process's business; the guardian outlives both.
process.on('SIGINT', () => {})
process.on('SIGHUP', () => {})

const evidence = new Evidence()
const reader = new LineReader()
let onLine: (line: string) => void = (line) => {
  const order = JSON.parse(line) as ToGuardian
  if (order.what === 'guard') guard(order).catch((error) => fail(error))
}
let onGone: () => void = () => process.exit(0)

const bench = new Socket({ fd: BENCH, readable: true, writable: true })
bench.on('data', (bytes) => reader.read(bytes, (line) => onLine(line)))
bench.on('error', () => onGone())
bench.on('close', () => onGone())

function tell(message: ToBench): void {
  bench.write(lineOf(message))
}

function fail(error: unknown): void {
  const says = error instanceof Error ? error.message : String(error)
  bench.end(lineOf({ what: 'failed', says }), () => process.exit(1))
}

async function guard(order: Extract<ToGuardian, { what: 'guard' }>): Promise<void> {
  const { rig, folder } = order
  process.umask(0o077)
  const clock = new RealTime(order.base)
  const ends = await openOwnEnds(rig, order.holds, clock)
  const benchProcess = new BenchProcess(order.pid)
  rehearse(rig)
  const askers = new Askers(rig.name, driveNames(rig).flat(), () => input('asked'))
  const stopListening = await listenFor(rig, askers.server, placesHere())
  const fifo = raise(FIFO) ? FIFO : null

  const leave = (): void => {
    stopListening()
    process.exit(0)
  }

  const { every, times } = looksFor(rig.guardian.timeout)
  const watch = new Guard(times, clock.now())
  const input = (kind: GuardInput['kind']): void => {
    const deed = watch.see({ kind, t: clock.now() })
    if (deed.do === 'pass on') tell({ what: 'stop' })
    else if (deed.do === 'leave') leave()
    else if (deed.do === 'take over') {
      over = true
      takeOver(
        {
          rig,
          clock,
          bench: benchProcess,
          driver,
          evidence,
          counts,
          takeBuses: () => ends.take(),
          onStopped: (drives, t) => askers.tell({ what: 'stopped', by: 'guardian', drives, t }),
          onOver: (drives, t) => {
            // Those who asked during the watch for sag.
            askers.tell({ what: 'stopped', by: 'guardian', drives, t })
            evidence.write(folder, drives, t)
            leave()
          },
        },
        deed.cause,
        deed.unheard,
      )
    }
  }
  let over = false
  let counts: TakeoverParts['counts'] = null
  let driver: TakeoverParts['driver'] = null
  let beats = 0
  onGone = () => input('closed')
  onLine = (line) => {
    if (line === '') {
      input('beat')
      if (++beats % ANSWER_EVERY === 0) bench.write('\n')
      return
    }
    const said = JSON.parse(line) as ToGuardian
    if (said.what === 'counts') ({ counts } = said)
    else if (said.what === 'driver') driver = new ProcessGroup(said.pid)
    else if (said.what === 'obeyed') input('obeyed')
    else if (said.what === 'good-bye') input('good-bye')
    else if (said.what === 'drives') {
      askers.tell({ what: 'stopped', by: 'bench', drives: said.drives, t: clock.now() })
    }
  }
  const look = (): void => {
    input('look')
    if (!over) later(every, look)
  }
  look()
  tell({ what: 'ready', fifo })
}
