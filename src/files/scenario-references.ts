/**
 * Checks of a scenario file against its rig and across its own sections. As in rig-references.ts, whatever is not
 * of the right form is passed over: the schema has complained about that.
 */
import { lacksAfloat } from './afloat-complaints.js'
import { type Complaint, type Path, show, valueAt } from './complaint.js'
import { FAULTS, isFaultName } from './faults/catalogue.js'
import type { FaultKind } from './faults/kind.js'
import { items, textAt, unknownName } from './loose.js'
import { isShareText, quantityOrUndefined } from './quantity.js'
import type { Rig } from './rig.js'
import { OPERATOR_ACTIONS } from './scenario.js'

/** What can stop a run besides the watches. */
const OTHER_SOURCES = ['operator', 'gate', 'drive', 'box']

export function scenarioReferences(raw: unknown, rig: Rig): Complaint[] {
  return [
    ...unknownNames(raw, rig),
    ...sharesOf(raw, rig),
    ...timesOf(raw),
    ...causeOfStop(raw),
    ...nothingStopped(raw),
    ...afloat(raw, rig),
    ...impossibleFaults(raw, rig),
  ]
}

function unknownNames(raw: unknown, rig: Rig): Complaint[] {
  const joints = rig.joints.map((joint) => joint.name)
  const arms = rig.arms.map((arm) => arm.name)
  const buses = rig.buses.map((bus) => bus.name)
  const sources = [...new Set([...OTHER_SOURCES, ...Object.keys(rig.watch ?? {})])]
  const check = (path: Path, valid: readonly string[], what: string): Complaint[] => {
    const name = textAt(raw, path)
    return name === undefined || valid.includes(name) ? [] : [unknownName(path, name, what, valid)]
  }
  const stop = textAt(raw, ['expect', 'outcome']) === 'stop'
  const finish = textAt(raw, ['expect', 'outcome']) === 'finish'
  return [
    ...items(raw, ['faults']).flatMap((_, i) =>
      check(['faults', i, 'joint'], joints, `no joint of ${rig.name}`),
    ),
    ...items(raw, ['faults']).flatMap((_, i) => [
      ...check(['faults', i, 'with'], joints, `no joint of ${rig.name}`),
      ...check(['faults', i, 'arm'], arms, `no arm of ${rig.name}`),
      ...check(['faults', i, 'bus'], buses, `no bus of ${rig.name}`),
    ]),
    ...(stop ? check(['expect', 'joint'], joints, `no joint of ${rig.name}`) : []),
    ...(stop ? check(['expect', 'bus'], buses, `no bus of ${rig.name}`) : []),
    ...(stop ? jointAndBus(raw) : []),
    ...(stop ? check(['expect', 'by'], sources, 'nothing that stops a run') : []),
    ...items(raw, finish ? ['expect', 'strokes'] : []).flatMap((_, i) =>
      check(['expect', 'strokes', i, 'arm'], arms, `no arm of ${rig.name}`),
    ),
  ]
}

/** Faults that the place that is named cannot have. */
function impossibleFaults(raw: unknown, rig: Rig): Complaint[] {
  return items(raw, ['faults']).flatMap((fault, i): Complaint[] => {
    const name = textAt(fault, ['fault'])
    const kind: FaultKind | undefined = isFaultName(name) ? FAULTS[name] : undefined
    const place = textAt(fault, ['joint'])
    const path = ['faults', i, 'fault']
    if (kind?.pair && place !== undefined && textAt(fault, ['with']) === place)
      return [
        {
          path: ['faults', i, 'with'],
          at: 'value',
          found: show(place),
          expected: 'another joint than the one before',
        },
      ]
    const joint = rig.joints.find((j) => j.name === place)
    if (kind?.only === undefined || joint === undefined || joint.wire.protocol === kind.only) return []
    const expected = `a fault that a drive can have that speaks frames of its own, as that of ${place} does`
    return [{ path, at: 'value', found: show(name), expected }]
  })
}

/** The rig must say what the craft floats by. */
function afloat(raw: unknown, rig: Rig): Complaint[] {
  const lacks = textAt(raw, ['plant']) === 'afloat' ? lacksAfloat(rig) : null
  if (lacks === null) return []
  const found = `"afloat", for which the rig ${rig.name} lacks ${lacks}`
  return [{ path: ['plant'], at: 'value', found, expected: 'dry, until the rig states it' }]
}

/** A share needs something that it is a share of. */
function sharesOf(raw: unknown, rig: Rig): Complaint[] {
  if (rig.stroke.fastest !== null) return []
  return items(raw, ['commands']).flatMap((command, i): Complaint[] => {
    const text = textAt(command, ['surge'])
    if (text === undefined || !isShareText(text)) return []
    return [
      {
        path: ['commands', i, 'surge'],
        at: 'value',
        found: `a share, "${text}"`,
        expected: `a speed, because ${rig.name} does not state its greatest side speed`,
        advice: 'state stroke.fastest in the rig file (drystroke check says what the joints allow)',
      },
    ]
  })
}

/** A stop has one place. */
function jointAndBus(raw: unknown): Complaint[] {
  const path = ['expect', 'bus']
  if (textAt(raw, ['expect', 'joint']) === undefined || textAt(raw, path) === undefined) return []
  const expected = 'joint or bus, as a stop names one place'
  return [{ path, at: 'value', found: 'a bus beside a joint', expected, advice: 'remove one of them' }]
}

function timesOf(raw: unknown): Complaint[] {
  const duration = quantityOrUndefined(valueAt(raw, ['duration']), 'time')
  const complaints: Complaint[] = []
  const time = (path: Path) => quantityOrUndefined(valueAt(raw, path), 'time')
  const refuse = (path: Path, expected: string) => {
    complaints.push({ path, at: 'value', found: show(valueAt(raw, path)), expected })
  }
  const span = show(valueAt(raw, ['duration']))
  const inTime = (path: Path): number | undefined => {
    const t = time(path)
    if (t === undefined || duration === undefined || t <= duration) return t
    refuse(path, `a time within the duration of the scenario, ${span}`)
    return undefined
  }
  for (const list of ['commands', 'operator']) {
    let last: { t: number; path: Path } | undefined
    for (const i of items(raw, [list]).keys()) {
      const path = [list, i, 'at']
      const t = inTime(path)
      if (t === undefined) continue
      if (last && t <= last.t) {
        refuse(
          path,
          `a time after the entry before it, ${show(valueAt(raw, last.path))}: entries stand in order of time`,
        )
      } else last = { t, path }
    }
  }
  for (const i of items(raw, ['faults']).keys()) inTime(['faults', i, 'at'])
  rampsOf(raw, duration, time, refuse)
  if (textAt(raw, ['expect', 'outcome']) === 'stop') {
    const after = inTime(['expect', 'after'])
    const within = time(['expect', 'within'])
    if (after !== undefined && within !== undefined && duration !== undefined && after + within > duration) {
      refuse(
        ['expect', 'within'],
        `a time that ends, counted from after, within the duration of the scenario, ${span}`,
      )
    }
  }
  return complaints
}

/** A ramp must be over before the next command, so that the command in force is never in doubt. */
function rampsOf(
  raw: unknown,
  duration: number | undefined,
  time: (path: Path) => number | undefined,
  refuse: (path: Path, expected: string) => void,
): void {
  const commands = items(raw, ['commands'])
  for (const i of commands.keys()) {
    const at = time(['commands', i, 'at'])
    const over = time(['commands', i, 'over'])
    if (at === undefined || over === undefined) continue
    const next = time(['commands', i + 1, 'at'])
    const end = at + over - 1e-9
    if (next !== undefined && next > at && end > next) {
      refuse(
        ['commands', i, 'over'],
        `a ramp that is over when the next command comes at ${show(valueAt(raw, ['commands', i + 1, 'at']))}`,
      )
    } else if (i === commands.length - 1 && duration !== undefined && at <= duration && end > duration) {
      refuse(
        ['commands', i, 'over'],
        `a ramp that is over when the scenario ends at ${show(valueAt(raw, ['duration']))}`,
      )
    }
  }
}

/** Without `after` the time to stop counts from the first cause that the scenario itself states. */
function causeOfStop(raw: unknown): Complaint[] {
  if (textAt(raw, ['expect', 'outcome']) !== 'stop' || valueAt(raw, ['expect', 'after']) !== undefined)
    return []
  const stops = items(raw, ['operator']).some((action) => textAt(action, ['do']) === 'stop')
  if (stops || items(raw, ['faults']).length > 0) return []
  const expected =
    'the time from which `within` counts, because the scenario states no fault and no operator stop'
  return [{ path: ['expect', 'after'], at: 'section', found: 'no key "after"', expected, advice: 'add it' }]
}

/**
 * Release, reset and start follow a stop. Which of them is refused in which order is the run's matter; here only what can
 * never follow one, because nothing that the scenario states could have stopped the run by then.
 */
function nothingStopped(raw: unknown): Complaint[] {
  const time = (path: Path) => quantityOrUndefined(valueAt(raw, path), 'time') ?? Number.NEGATIVE_INFINITY
  // A stop that is expected from a watch, the gate or a drive can come at any time.
  const expected =
    textAt(raw, ['expect', 'outcome']) === 'stop' && textAt(raw, ['expect', 'by']) !== 'operator'
  if (expected) return []
  const first = Math.min(...items(raw, ['faults']).map((_, i) => time(['faults', i, 'at'])))
  const complaints: Complaint[] = []
  for (const [i, action] of items(raw, ['operator']).entries()) {
    const word = textAt(action, ['do'])
    if (word === 'stop' || first <= time(['operator', i, 'at'])) break
    if (word === undefined || !OPERATOR_ACTIONS.some((a) => a === word)) continue
    complaints.push({
      path: ['operator', i, 'do'],
      at: 'value',
      found: show(word),
      expected: 'a stop before it: until then the scenario has no fault, operator stop or expected stop',
      advice: 'put "do: stop" before it, or remove it',
    })
  }
  return complaints
}
