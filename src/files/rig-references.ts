/**
 * Checks across the sections of a rig file. They read the plain values loosely and pass over whatever is not of the
 * right form, because the schema has complained about that: so all mistakes come at once, and each comes once.
 */
import type { z } from 'zod'
import { clearanceReferences } from './clearance-references.js'
import { type Complaint, type Path, show, valueAt } from './complaint.js'
import { frameMapReferences, speaksFrames } from './frame-map-references.js'
import { items, type LooseJoint, textAt, unknownName } from './loose.js'
import { didYouMean, nearest, oneOf } from './nearest.js'
import { quantityOrUndefined } from './quantity.js'
import { controlForm, guardianForm, linkForm } from './rig-schema.js'
import { freeSections } from './schema-walk.js'

/** Identifiers that a node of the rig uses, as offsets of its id (CiA 301, predefined connection set; wire/cia402). */
const NODE_COB_IDS: readonly [base: number, use: string][] = [
  [0x080, 'emergency messages'],
  [0x180, 'feedback'],
  [0x200, 'setpoints'],
  [0x300, 'its own controlword'],
  [0x580, 'SDO replies'],
  [0x600, 'SDO requests'],
  [0x700, 'heartbeat'],
]

const REPORTS = [0x280, 'reports'] as const

/** The sections that name each joint of the rig, and why. */
const EVERY_JOINT = new Map([
  [
    JSON.stringify(['simulation', 'joints']),
    'because simulated arms take nothing over from the wire bindings',
  ],
  [JSON.stringify(['clearance', 'links']), 'because every link can hit something'],
])

export function rigReferences(raw: unknown, form: z.ZodType): Complaint[] {
  const joints = looseJoints(raw)
  return [
    ...repeated(raw, ['buses']),
    ...repeated(raw, ['arms']),
    ...items(raw, ['arms']).flatMap((_, arm) => repeated(raw, ['arms', arm, 'joints'])),
    ...busesOf(raw, joints),
    ...repeated(raw, ['frame-maps']),
    ...items(raw, ['buses']).flatMap((bus, i) => onOneBus(bus, ['buses', i], joints)),
    ...ownedBuses(raw, joints),
    ...frameMapReferences(raw, joints),
    ...namesOfJoints(raw, form, joints),
    ...startsOf(raw, joints),
    ...viaOf(raw, joints),
    ...repeated(raw, ['clearance', 'keep-out']),
    ...clearanceReferences(raw, joints),
    ...freshness(raw),
    ...beats(raw),
  ]
}

function looseJoints(raw: unknown): LooseJoint[] {
  return items(raw, ['arms']).flatMap((arm, a) =>
    items(arm, ['joints']).map((joint, j) => {
      const names = [textAt(arm, ['name']), textAt(joint, ['name'])]
      const name = names.includes(undefined) ? undefined : names.join('.')
      return { path: ['arms', a, 'joints', j], name, raw: joint }
    }),
  )
}

/** Names that stand twice in a list. */
function repeated(raw: unknown, path: Path): Complaint[] {
  const seen = new Set<string>()
  return items(raw, path).flatMap((item, i): Complaint[] => {
    const name = textAt(item, ['name'])
    if (name === undefined) return []
    if (!seen.has(name)) {
      seen.add(name)
      return []
    }
    const found = `"${name}", a name that an earlier entry has`
    return [
      {
        path: [...path, i, 'name'],
        at: 'value',
        found,
        expected: 'each name once',
        advice: 'rename one of them',
      },
    ]
  })
}

function busesOf(raw: unknown, joints: readonly LooseJoint[]): Complaint[] {
  const names = items(raw, ['buses']).flatMap((bus) => textAt(bus, ['name']) ?? [])
  if (names.length === 0) return []
  return joints.flatMap((joint): Complaint[] => {
    const bus = textAt(joint.raw, ['wire', 'bus'])
    if (bus === undefined || names.includes(bus)) return []
    return [unknownName([...joint.path, 'wire', 'bus'], bus, 'no bus of this rig', names)]
  })
}

/** Node ids, and what CiA 402 wants of the shared controlword and the queue of one bus. */
function onOneBus(bus: unknown, path: Path, joints: readonly LooseJoint[]): Complaint[] {
  const name = textAt(bus, ['name'])
  const here = joints.filter((joint) => name !== undefined && textAt(joint.raw, ['wire', 'bus']) === name)
  const complaints: Complaint[] = []
  const ownerOf = new Map<number, string>()
  const controlword = Number(textAt(bus, ['controlword']) ?? Number.NaN)
  const reports = valueAt(bus, ['reports']) !== undefined
  for (const joint of here) {
    const node = valueAt(joint.raw, ['wire', 'node'])
    if (typeof node !== 'number') continue
    const owner = ownerOf.get(node)
    if (owner !== undefined) {
      const found = `node ${node}, which ${owner} has on bus ${name}`
      const expected = 'each node id once on a bus'
      complaints.push({
        path: [...joint.path, 'wire', 'node'],
        at: 'value',
        found,
        expected,
        advice: 'change one of them',
      })
      continue
    }
    ownerOf.set(node, joint.name ?? 'another joint')
    if (speaksFrames(joint)) continue
    const uses = reports ? [...NODE_COB_IDS, REPORTS] : NODE_COB_IDS
    const use = uses.find(([base]) => base + node === controlword)?.[1]
    if (use === undefined) continue
    const found = `${show(textAt(bus, ['controlword']))}, which node ${node} (${joint.name ?? 'a joint'}) uses for ${use}`
    const expected =
      'an identifier that no node of the bus uses, because two senders of one identifier collide'
    const free = freeIdentifier(here)
    complaints.push({
      path: [...path, 'controlword'],
      at: 'value',
      found,
      expected,
      advice: `"${free}" is free`,
    })
  }
  if (reports && here.some(speaksFrames)) {
    complaints.push({
      path: [...path, 'reports'],
      at: 'value',
      found: 'objects that drives report',
      expected: 'no such key on a bus whose arms speak frames of their own',
      advice: 'remove it, and name signals of the feedback temperature, voltage or current in the frame map',
    })
  }
  if (here.some(speaksFrames)) return complaints
  const queue = valueAt(bus, ['queue'])
  // A cycle hands over one setpoint a joint, and at worst SYNC, controlword, heartbeat and one SDO request with them.
  const least = here.length + 4
  if (typeof queue === 'number' && queue >= 4 && queue < least) {
    const expected = `at least ${least}, because one control cycle hands over up to ${least} frames to the bus`
    complaints.push({ path: [...path, 'queue'], at: 'value', found: show(queue), expected })
  }
  return complaints
}

/**
 * Of buses that the driver owns: the stop goes out on an identifier that nobody else sends on, so there must be one; that it is
 * none of the driver's `onOneBus` has seen to.
 */
function ownedBuses(raw: unknown, joints: readonly LooseJoint[]): Complaint[] {
  if (valueAt(raw, ['driver', 'owns-bus']) !== true) return []
  return items(raw, ['buses']).flatMap((bus, i): Complaint[] => {
    const name = textAt(bus, ['name'])
    const here = joints.filter((joint) => name !== undefined && textAt(joint.raw, ['wire', 'bus']) === name)
    if (here.some(speaksFrames)) {
      const found = `true, although joints on bus ${name} speak a frame map`
      const expected = 'false, because a frame map has no stop frame that only the harness sends'
      return [{ path: ['driver', 'owns-bus'], at: 'value', found, expected }]
    }
    if (here.length === 0 || valueAt(bus, ['controlword']) !== undefined) return []
    return [
      {
        path: ['buses', i],
        at: 'section',
        found: 'no controlword, although the driver owns the bus',
        expected: 'the identifier of the stop PDO, on which only the harness sends',
        advice: `set the drives up for it, such as controlword: "${freeIdentifier(here)}"`,
      },
    ]
  })
}

/** The lowest identifier for process data, which goes first in arbitration, that none of the joints' nodes uses. */
function freeIdentifier(joints: readonly LooseJoint[]): string {
  const nodes = new Set(joints.map((joint) => valueAt(joint.raw, ['wire', 'node'])))
  let id = 0x181
  while ([...NODE_COB_IDS, REPORTS].some(([base]) => nodes.has(id - base))) id++
  return `0x${id.toString(16)}`
}

/** In a rig every section with free keys is keyed by joint; some name each joint, others name those that they want. */
function namesOfJoints(raw: unknown, form: z.ZodType, joints: readonly LooseJoint[]): Complaint[] {
  // When a joint's name is missing or stands twice, its entry cannot be told from an unknown one.
  const names = joints.flatMap(({ name }) => name ?? [])
  if (new Set(names).size < joints.length || names.length === 0) return []
  const pose = 'because every joint must know where it goes'
  return [
    ...freeSections(form, raw).flatMap((path) =>
      jointKeys(raw, path, names, EVERY_JOINT.get(JSON.stringify(path)) ?? null),
    ),
    ...items(raw, ['motion', 'via']).flatMap((entry, i) =>
      typeof entry === 'object' && entry !== null && !Array.isArray(entry)
        ? jointKeys(raw, ['motion', 'via', i], names, pose)
        : [],
    ),
  ]
}

/** @param why every joint must have an entry; null: it need not */
function jointKeys(raw: unknown, path: Path, names: readonly string[], why: string | null): Complaint[] {
  const present = Object.keys(valueAt(raw, path) as object)
  const absent = names.filter((name) => !present.includes(name))
  const complaints: Complaint[] = []
  for (const name of present) {
    if (names.includes(name)) continue
    const meant = nearest(name, absent)
    // Misspelt is not missing as well.
    if (meant !== undefined) absent.splice(absent.indexOf(meant), 1)
    const advice = didYouMean(meant ?? nearest(name, names)) || 'remove it'
    const found = `"${name}", no joint of this rig`
    complaints.push({ path: [...path, name], at: 'key', found, expected: oneOf(names), advice })
  }
  if (why === null) return complaints
  for (const name of absent) {
    const found = `no entry for the joint "${name}"`
    const expected = `one entry for each joint, ${why}`
    complaints.push({ path: [...path, name], at: 'section', found, expected, advice: 'add it' })
  }
  return complaints
}

/** The simulated arms must be able to stand where they start. */
function startsOf(raw: unknown, joints: readonly LooseJoint[]): Complaint[] {
  return joints.flatMap((joint) =>
    joint.name === undefined
      ? []
      : outside(raw, ['simulation', 'joints', joint.name, 'start'], joint, 'start'),
  )
}

/** The poses of the approach are poses that the joints can take. */
function viaOf(raw: unknown, joints: readonly LooseJoint[]): Complaint[] {
  return items(raw, ['motion', 'via']).flatMap((_, i) =>
    joints.flatMap((joint) =>
      joint.name === undefined ? [] : outside(raw, ['motion', 'via', i, joint.name], joint, 'angle'),
    ),
  )
}

function outside(raw: unknown, path: Path, joint: LooseJoint, what: string): Complaint[] {
  const position = (at: Path, from: unknown) => quantityOrUndefined(valueAt(from, at), 'angle')
  const stated = position(path, raw)
  if (items(joint.raw, ['limits', 'position']).length !== 2) return []
  const lower = position(['limits', 'position', 0], joint.raw)
  const upper = position(['limits', 'position', 1], joint.raw)
  if (stated === undefined || lower === undefined || upper === undefined || lower >= upper) return []
  if (stated >= lower && stated <= upper) return []
  const [low, high] = items(joint.raw, ['limits', 'position'])
  const expected = `${what === 'angle' ? 'an' : 'a'} ${what} within the position limits of the joint, ${show(low)} to ${show(high)}`
  return [{ path, at: 'value', found: show(valueAt(raw, path)), expected }]
}

/** Feedback is always about a cycle old; a limit below that would stop every run. */
function freshness(raw: unknown): Complaint[] {
  const control = controlForm.safeParse(valueAt(raw, ['control']))
  const link = linkForm.safeParse(valueAt(raw, ['link']))
  if (!control.success || !link.success) return []
  if (link.data['stale-after'] * control.data.rate >= 2) return []
  const stated = valueAt(raw, ['link', 'stale-after'])
  return [
    stated === undefined
      ? {
          path: ['control', 'rate'],
          at: 'value',
          found: `${show(valueAt(raw, ['control', 'rate']))}, too slow for link.stale-after as it is by default`,
          expected: 'link.stale-after to be at least two control periods',
          advice: 'state a longer link.stale-after',
        }
      : {
          path: ['link', 'stale-after'],
          at: 'value',
          found: show(stated),
          expected: 'at least two control periods, because feedback comes once a period',
        },
  ]
}

/** Control periods that fit into the guardian's time-out: one late tick is no dead bench (common practice, no source). */
const BEATS = 3

/** The guardian hears one beat a tick. */
function beats(raw: unknown): Complaint[] {
  const control = controlForm.safeParse(valueAt(raw, ['control']))
  const guardian = guardianForm.safeParse(valueAt(raw, ['guardian']))
  if (!control.success || !guardian.success) return []
  if (guardian.data.timeout * control.data.rate >= BEATS - 1e-9) return []
  const stated = valueAt(raw, ['guardian', 'timeout'])
  return [
    stated === undefined
      ? {
          path: ['control', 'rate'],
          at: 'value',
          found: `${show(valueAt(raw, ['control', 'rate']))}, too slow for guardian.timeout as it is by default`,
          expected: 'guardian.timeout to be at least three control periods',
          advice: 'state a longer guardian.timeout',
        }
      : {
          path: ['guardian', 'timeout'],
          at: 'value',
          found: show(stated),
          expected: 'at least three control periods, because the guardian hears of a tick once a period',
        },
  ]
}
