/**
 * Troubles that others than watches report as events: the last gate, the driver, a drive in set-up. Each becomes a
 * finding in its reporter's name. None asks for a stop: whoever reported it has latched one.
 */
import { type Finding, GIVEN_TWICE } from '../files/event.js'
import type { Observation, Watch } from '../watch/watch.js'

/** What is told of a driver that cannot go on, by the code of its trouble. */
const DRIVER_WORDS: Readonly<Record<string, readonly [says: string, why: string, look: string]>> = {
  'driver-lost': [
    'The driver is gone',
    'Arms whose driver has died go nowhere that anybody has decided.',
    "Look at its last words, which the recording's events have (said), and at what ended it.",
  ],
  'driver-silent': [
    'The driver fell silent',
    'A driver that stands still leads the arms nowhere, and afloat nobody would stop them.',
    'Look at what it was doing then: waiting for something, or collecting garbage.',
  ],
  'driver-rubbish': [
    'The driver sent what is no answer',
    'A driver that says something else than setpoints would have moved real arms by it.',
    'Look at what it prints, and at its numbers just before.',
  ],
  'driver-flood': [
    'The driver sent without end',
    'A flood keeps whoever listens from everything else.',
    'Look for a loop that waits for nothing.',
  ],
}

const GAVE_UP = [
  'The driver gave up',
  'Without a driver nothing decides where the blades go.',
  'Look at the command and the place in the stroke at that time.',
] as const

function driverWords(code: string, what: string): Pick<Finding, 'says' | 'why' | 'look'> {
  const [says, why, look] = DRIVER_WORDS[code] ?? GAVE_UP
  return { says: `${says}: ${what}`, why, look }
}

export class ReportedTroubles implements Pick<Watch, 'kinds' | 'see'> {
  readonly kinds = [
    'gate',
    'driver',
    'rejoined',
    'refusal',
    'notice',
    'contact',
    'unchecked',
    'gap',
    'lost',
  ] as const
  readonly #report: (f: Finding) => void

  constructor(report: (f: Finding) => void) {
    this.#report = report
  }

  see(o: Observation): void {
    if (o.kind === 'gate') {
      this.#report({
        watch: 'gate',
        severity: 'failure',
        place: o.place,
        t: o.t,
        quantity: o.quantity,
        value: o.value,
        limit: o.limit,
        unit: o.unit,
        says: `The last gate held a cycle of setpoints back: ${o.quantity}.`,
        why: 'A driver that asks for what the arm must not do is not ready for real arms.',
        look: lookOf(o.quantity),
        stop: null,
      })
    } else if (o.kind === 'driver') {
      this.#report({ ...plain('driver', o.place, o.t), quantity: o.code, ...driverWords(o.code, o.says) })
    } else if (o.kind === 'rejoined') {
      this.#report({
        ...plain('driver', '', o.t),
        severity: 'warning',
        quantity: 'connection',
        says: `It was lost and came back: ${o.says}.`,
        why: 'What was said meanwhile, either way, is lost.',
        look: "Look at the network between the harness and the driver, and at the driver's own log.",
      })
    } else if (o.kind === 'notice') {
      this.#report({
        ...plain('drive', o.place, o.t),
        severity: 'warning',
        quantity: 'notice',
        says: `This joint's drive ${o.says}.`,
        why: 'What helped this time is the second way, and there is no third.',
        look: "Look at the controlword's PDO of this drive, at its bus, and at who had enabled it.",
      })
    } else if (o.kind === 'gap') {
      this.#report({
        ...plain('log', o.place, o.t),
        severity: 'doubt',
        quantity: 'frames missing',
        value: o.frames,
        says: 'The log lacks frames of this bus that the recording has.',
        why: 'What was in them nobody but the harness itself can say.',
        look: 'Start the log before the run, end it after, and look whether its writer says that it dropped frames.',
      })
    } else if (o.kind === 'contact') {
      // That somebody pressed it is told by the stop.
      if (o.contact === 'lost')
        this.#report({
          ...plain('box', o.place, o.t),
          severity: 'warning',
          quantity: 'contact',
          says: 'The emergency-stop box could not be read, which counts as pressed.',
          why: 'A box that nobody reads stops nothing.',
          look: "Look at the plug and cable of the box, and at the machine's load.",
        })
    } else if (o.kind === 'unchecked') {
      this.#report({
        ...plain('drive', o.place, o.t),
        severity: 'warning',
        quantity: 'not checked',
        says: o.says,
        why: 'What has no frame in the frame map cannot be checked over the bus.',
        look: "Look it up in the drives' own software, and prove the stop at standstill and at low speed.",
      })
    } else if (o.kind === 'lost') {
      this.#report({
        ...plain('recording', '', o.t),
        severity: 'doubt',
        quantity: 'records lost',
        value: o.frames + o.ticks,
        unit: 'count',
        says: 'Records of this run were not written down in time and are lost; what came after them is not judged.',
        why: 'What was not recorded was not seen.',
        look: 'Look at the disk that the recording goes to, and at what else the machine was doing.',
      })
    } else if (o.kind === 'refusal') {
      this.#report({
        ...plain('drive', o.place, o.t),
        quantity: 'set-up',
        says: `${o.place === '' ? 'The rig' : 'This joint'} ${o.says}: expected ${o.expected}, found ${o.found}.`,
        why: 'Arms are moved only by drives whose set-up was read back as it was written.',
        look: "Look at this drive's parameters and node id, and at the rig's wire binding.",
      })
    }
  }
}

function plain(watch: string, place: string, t: number) {
  return { watch, severity: 'failure', place, t, value: 1, limit: 0, unit: 'none', stop: null } as const
}

/** After the gate has held a setpoint back. */
function lookOf(quantity: string): string {
  if (quantity === GIVEN_TWICE)
    return 'Look why the driver gave no new setpoint for this period: what it waited for, its rate, its priority on a busy machine, and what lies queued on the way.'
  const first = 'Look what the driver was told just before, at its path there, and at its own limits'
  return quantity === 'setpoint acceleration'
    ? `${first}; then whether it had missed the period before, so that this step is twice as long.`
    : `${first}.`
}
