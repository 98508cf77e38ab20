/** `drystroke survey`: listens to a rig's buses, asks the drives where told to, and says what is missing. */
import type { Adapter } from '../../bus/adapter.js'
import { canRestart } from '../../bus/can-restart.js'
import { openBus } from '../../bus/open.js'
import { nanos, RealTime } from '../../clock.js'
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import { Asker } from '../../survey/ask.js'
import { hints } from '../../survey/hints.js'
import { Listener } from '../../survey/listen.js'
import { isThere } from '../../survey/picture.js'
import { surveyText } from '../../survey/screen.js'
import { readRig } from '../inputs.js'
import { columnsOf, hasColour } from '../screen.js'

export interface SurveyArguments {
  readonly rig: string | undefined
  readonly bus: readonly string[]
  readonly ask: boolean
  /** s */
  readonly length: number
  readonly json: boolean
}

const SHORTEST = 0.1
/** s; longer than that is a recording, not a survey. */
const LONGEST = 600
/** ns between two looks at the drives' answers */
const ASK_EVERY = 5e6

/** @throws DrystrokeError `usage` for a mock bus or a wrong length, `bus-access` when a bus cannot be opened */
export async function survey(args: SurveyArguments): Promise<ExitStatus> {
  const { length } = args
  if (!(length >= SHORTEST && length <= LONGEST))
    throw new DrystrokeError('usage', `--for: expected from "${SHORTEST} s" to "${LONGEST} s"`)
  const { rig, rigFile } = readRig(args.rig, args.bus)
  const mock = rig.buses.find((b) => b.address.kind === 'mock')
  if (mock) {
    throw new DrystrokeError(
      'usage',
      `${rigFile}: bus ${mock.name} is a mock bus, on which nobody speaks but a run; name a real one, such as --bus ${mock.name}=socketcan:can0`,
    )
  }
  const clock = new RealTime()
  const buses: Adapter[] = []
  try {
    for (const bus of rig.buses) buses.push(await openBus(bus, clock, { listenOnly: !args.ask }))
    const listener = new Listener(rig)
    const asker = new Asker(rig, buses)
    buses.forEach((bus, b) => {
      bus.onFrame((frame, t) => {
        listener.frame(b, frame, t)
        asker.onFrame(b, frame, t)
      })
      bus.onReport((report) => listener.report(b, report))
    })
    const restarts = rig.buses.map(({ address }) =>
      address.kind === 'socketcan' ? canRestart(address.interface) : null,
    )
    await until(clock, length, args.ask ? asker : null)
    const picture = listener.picture(length, asker, restarts)
    const advice = hints(picture, rig)
    if (args.json) process.stdout.write(`${JSON.stringify({ ...picture, hints: advice }, null, 2)}\n`)
    else {
      const screen = { width: columnsOf(process.stdout), colour: hasColour(process.stdout) }
      const how = args.ask ? 'drives were asked by SDO' : howListened(buses)
      process.stdout.write(surveyText(picture, advice, rig, how, screen))
    }
    const well = picture.joints.every((j) => isThere(j) && j.inside !== false)
    return well ? EXIT.pass : EXIT.fail
  } finally {
    clock.stop()
    for (const bus of buses) bus.close()
  }
}

/** What a passive survey did to the bus: a controller without listen-only mode acknowledges frames of others. */
function howListened(buses: readonly Adapter[]): string {
  const loud = buses.filter((b) => !b.silent).map((b) => b.name)
  if (loud.length === 0) return 'listen-only, nothing was sent or acknowledged'
  return `nothing was sent; not known to be in listen-only mode, so frames may have been acknowledged: ${loud.join(', ')}`
}

/** Ends after `length` s, and, when drives are asked, once each has answered or been given up. */
function until(clock: RealTime, length: number, asker: Asker | null): Promise<void> {
  return new Promise((resolve) => {
    const end = clock.now() + nanos(length)
    const look = (): void => {
      const t = clock.now()
      const answered = asker?.tick(t) ?? true
      if (t >= end && answered) resolve()
      else clock.at(t + ASK_EVERY, look)
    }
    asker?.begin(clock.now())
    look()
  })
}
