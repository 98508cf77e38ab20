/**
 * Troubles that others than watches report as events: the last gate, the driver, a drive in set-up. Each becomes a
 * finding in its reporter's name. None asks for a stop: whoever reported it has latched one.
 */
import type { Finding } from '../files/event.js'
import type { Observation, Watch } from '../watch/watch.js'

export class ReportedTroubles implements Pick<Watch, 'kinds' | 'see'> {
  readonly kinds = ['gate', 'driver', 'refusal', 'notice', 'contact', 'unchecked', 'gap', 'lost'] as const
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
        look: 'Look what the driver was told just before, at its path there, and at its own limits.',
        stop: null,
      })
    } else if (o.kind === 'driver') {
      this.#report({
        ...plain('driver', o.place, o.t),
        quantity: o.code,
        says: `The driver gave up: ${o.says}`,
        why: 'Without a driver nothing decides where the blades go.',
        look: 'Look at the command and the place in the stroke at that time.',
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
