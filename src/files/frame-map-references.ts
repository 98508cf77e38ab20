/**
 * Checks of frame maps against the joints and buses that use them; loose reading as in rig-references.ts. A map that is
 * mistaken in itself is passed over: the schema has complained.
 */
import { type Complaint, type Path, show, valueAt } from './complaint.js'
import { type FrameMap, framesOf, identifierOf, type MapFrame, rangeOf } from './frame-map.js'
import { frameMapForm } from './frame-map-schema.js'
import { items, type LooseJoint, textAt, unknownName } from './loose.js'
import { quantityOrUndefined } from './quantity.js'
import { controlForm } from './rig-schema.js'

const HIGHEST_IDENTIFIER = 0x7ff

/** A joint whose `wire` says that it speaks a map, and which. */
interface Speaker {
  readonly joint: LooseJoint
  readonly node: number
  readonly map: FrameMap
}

export function frameMapReferences(raw: unknown, joints: readonly LooseJoint[]): Complaint[] {
  const maps = new Map<string, FrameMap>()
  const names: string[] = []
  for (const form of items(raw, ['frame-maps'])) {
    const name = textAt(form, ['name'])
    if (name !== undefined) names.push(name)
    const parsed = frameMapForm.safeParse(form)
    if (parsed.success) maps.set(parsed.data.name, parsed.data)
  }
  const complaints: Complaint[] = []
  const speakers: Speaker[] = []
  for (const joint of joints.filter(speaksFrames)) {
    const name = textAt(joint.raw, ['wire', 'map'])
    const node = valueAt(joint.raw, ['wire', 'node'])
    if (name !== undefined && !names.includes(name)) {
      const where = [...joint.path, 'wire', 'map']
      complaints.push(
        names.length > 0
          ? unknownName(where, name, 'no frame map of this rig', names)
          : {
              path: where,
              at: 'value',
              found: `"${name}"`,
              expected: 'the name of an entry in frame-maps',
              advice: 'add it',
            },
      )
    }
    const map = maps.get(name ?? '')
    if (map && typeof node === 'number') speakers.push({ joint, node, map })
  }
  return [
    ...complaints,
    ...speakers.flatMap(({ joint, map }) => room(joint, map)),
    ...items(raw, ['buses']).flatMap((bus, i) => onOneBus(bus, ['buses', i], joints, speakers, names)),
    ...periods(raw, new Set(speakers.map((s) => s.map))),
    ...category(raw, speakers),
  ]
}

export const speaksFrames = (joint: LooseJoint): boolean =>
  textAt(joint.raw, ['wire', 'protocol']) === 'frames'

/** A position signal must hold every position that the joint may take. */
function room({ raw, path }: LooseJoint, map: FrameMap): Complaint[] {
  const sign = valueAt(raw, ['wire', 'sign'])
  const zero = quantityOrUndefined(valueAt(raw, ['wire', 'zero']), 'angle')
  const limits = [0, 1].map((i) => quantityOrUndefined(valueAt(raw, ['limits', 'position', i]), 'angle'))
  if ((sign !== 1 && sign !== -1) || zero === undefined || limits.includes(undefined)) return []
  return (['setpoint', 'feedback'] as const).flatMap((use): Complaint[] => {
    const signal = map[use].signals.find((s) => s.is === 'position')!
    const [least, greatest] = rangeOf(signal)
    const numbers = limits.map((p) => Math.round((sign * p! + zero - signal.offset) / signal.scale))
    if (numbers.every((n) => n >= least && n <= greatest)) return []
    const [low, high] = items(raw, ['limits', 'position'])
    return [
      {
        path: [...path, 'limits', 'position'],
        at: 'value',
        found: `${show(low)} to ${show(high)}, which are ${numbers.join(' and ')} in the position signal of ${use} of the frame map "${map.name}"`,
        expected: `positions that its ${signal.length} bits can hold, ${least} to ${greatest}`,
        advice: 'correct length, scale, offset or signed of the signal, the zero of the joint, or its limits',
      },
    ]
  })
}

/** One language a bus, identifiers of its own for every frame, and a stop that is confirmed where arms are real. */
function onOneBus(
  bus: unknown,
  path: Path,
  joints: readonly LooseJoint[],
  speakers: readonly Speaker[],
  names: readonly string[],
): Complaint[] {
  const name = textAt(bus, ['name'])
  const here = joints.filter((j) => name !== undefined && textAt(j.raw, ['wire', 'bus']) === name)
  const talking = here.filter(speaksFrames)
  if (talking.length === 0) return []
  const complaints: Complaint[] = []
  const complain = (where: Path, found: string, expected: string, advice?: string) =>
    complaints.push({ path: where, at: 'value', found, expected, ...(advice ? { advice } : {}) })

  const first = here[0]!
  const languageOf = (j: LooseJoint) =>
    speaksFrames(j) ? `the frame map "${textAt(j.raw, ['wire', 'map']) ?? '?'}"` : 'cia402'
  for (const joint of here) {
    const map = textAt(joint.raw, ['wire', 'map'])
    // That there is no such map, or no such protocol, has been said already.
    if (!['cia402', 'frames'].includes(textAt(joint.raw, ['wire', 'protocol']) ?? 'cia402')) continue
    if (languageOf(joint) === languageOf(first) || (map !== undefined && !names.includes(map))) continue
    const found = `${languageOf(joint)}, while ${first.name ?? 'another joint'} on bus ${name} speaks ${languageOf(first)}`
    const key = speaksFrames(joint) ? (speaksFrames(first) ? 'map' : 'protocol') : 'node'
    const expected = 'one protocol and one frame map on a bus'
    complain([...joint.path, 'wire', key], found, expected, 'put the joint on a bus of its own kind')
  }
  if (textAt(bus, ['controlword']) !== undefined) {
    const expected = 'no such key on a bus whose arms speak frames of their own'
    complain([...path, 'controlword'], show(valueAt(bus, ['controlword'])), expected, 'remove it')
  }
  const mine = speakers.filter((s) => here.includes(s.joint))
  complaints.push(...identifiers(name!, mine))
  const queue = valueAt(bus, ['queue']) ?? 32
  const least = 3 * here.length + 1
  if (typeof queue === 'number' && queue >= 4 && queue < least) {
    const expected = `at least ${least}, because one control cycle hands over up to ${least} frames to the bus`
    if (valueAt(bus, ['queue']) === undefined) {
      complaints.push({
        path: [...path, 'queue'],
        at: 'section',
        found: `"queue" left at ${queue}`,
        expected,
      })
    } else complain([...path, 'queue'], show(queue), expected)
  }
  const unconfirmed = mine.find((s) => s.map.confirmsStop === null)
  const address = textAt(bus, ['address'])
  if (unconfirmed && address !== undefined && address !== 'mock') {
    const found = `${show(address)}, a real bus, with arms whose frame map "${unconfirmed.map.name}" names no signal that confirms a stop`
    const advice = 'add confirms-stop to the map, with the signal by which the arm says that it obeys a stop'
    complain(
      [...path, 'address'],
      found,
      '"mock": arms that do not confirm a stop are not moved for real',
      advice,
    )
  }
  return complaints
}

function identifiers(bus: string, speakers: readonly Speaker[]): Complaint[] {
  const owners = new Map<number, { speaker: Speaker; use: string; frame: MapFrame }>()
  const complaints: Complaint[] = []
  for (const speaker of speakers) {
    const { joint, node, map } = speaker
    // That a node stands twice has been said already.
    if ([...owners.values()].some((o) => o.speaker.node === node)) continue
    for (const { use, frame } of framesOf(map)) {
      const id = identifierOf(frame, node)
      const found = `node ${node}, which gives ${use} the identifier 0x${id.toString(16).padStart(3, '0')}`
      const complain = (also: string, expected: string) =>
        complaints.push({
          path: [...joint.path, 'wire', 'node'],
          at: 'value',
          found: `${found}${also}`,
          expected,
        })
      const owner = owners.get(id)
      if (id > HIGHEST_IDENTIFIER) complain('', 'a node that keeps every identifier of the map up to 0x7ff')
      else if (!owner) owners.set(id, { speaker, use, frame })
      else if (!sameFrame(owner.frame, frame) || (owner.speaker !== speaker && !maySpeakToAll(use, frame))) {
        const whose = `${owner.use} of ${owner.speaker.joint.name ?? 'another joint'}`
        complain(`, that of ${whose} on bus ${bus}`, 'each identifier for one frame of one joint')
      }
    }
  }
  return complaints
}

/** Requests and commands may go to every joint in one frame; setpoints and feedback are each joint's own. */
const maySpeakToAll = (use: string, frame: MapFrame): boolean =>
  frame.step === 0 && use !== 'setpoint' && use !== 'feedback'

/** Frames of one map that share an identifier, shared by all joints or told apart by a constant: the map's own matter. */
const sameFrame = (a: MapFrame, b: MapFrame): boolean => a.base === b.base && a.step === b.step

/** Feedback that comes by itself comes once a control period. */
function periods(raw: unknown, maps: ReadonlySet<FrameMap>): Complaint[] {
  const control = controlForm.safeParse(valueAt(raw, ['control']))
  if (!control.success) return []
  return items(raw, ['frame-maps']).flatMap((form, i): Complaint[] => {
    const map = [...maps].find((m) => m.name === textAt(form, ['name']))
    if (!map || map.every === null || Math.abs(map.every * control.data.rate - 1) < 1e-6) return []
    const path = ['frame-maps', i, 'feedback', 'every']
    const found = show(valueAt(raw, path))
    return [{ path, at: 'value', found, expected: `the control period, "${1000 / control.data.rate} ms"` }]
  })
}

function category(raw: unknown, speakers: readonly Speaker[]): Complaint[] {
  const asked = valueAt(raw, ['stop', 'category'])
  const without = speakers.find((s) => s.map.commands.disable === null)
  if (asked !== 0 || !without) return []
  const expected = `1, because the frame map "${without.map.name}" has no disable frame`
  return [{ path: ['stop', 'category'], at: 'value', found: show(asked), expected }]
}
