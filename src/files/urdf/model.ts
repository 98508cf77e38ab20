/**
 * A URDF file as links and joints. Source: the format's own description, "XML robot description format" of the links, joints
 * and inertials, from memory; tests/outside holds it against another reader of the format.
 */

import { bodyIn, type Transform } from '../../rigid.js'
import { whyUnphysical } from '../body.js'
import { didYouMean, nearest } from '../nearest.js'
import type { Body, Vector3 } from '../rig.js'
import { type Mistakes, type Place, refusal } from './mistakes.js'
import { Reader } from './read.js'
import type { XmlElement } from './xml.js'

export interface UrdfLink {
  readonly name: string
  readonly place: Place
  /** In the frame of the link; null: not stated. */
  readonly body: Body | null
  /** Why the body cannot be, or null; matters only where the arm carries the link. */
  readonly unphysical: { readonly why: string; readonly place: Place } | null
}

export interface UrdfJoint {
  readonly name: string
  readonly place: Place
  /** As the file has it, known or not. */
  readonly type: { readonly word: string; readonly place: Place }
  readonly parent: string
  readonly child: string
  /** T_parentlink_childlink at position zero; the frame of the child link is that of the joint. */
  readonly origin: Transform
  /** In the frame of the joint, as the file has it: any length but zero. */
  readonly axis: { readonly direction: Vector3; readonly place: Place }
  /** rad, rad/s, N m; null: the file does not say */
  readonly limit: {
    readonly place: Place
    readonly lower: number
    readonly upper: number
    readonly velocity: number | null
    readonly effort: number | null
  } | null
  /** N m s/rad and N m */
  readonly dynamics: { readonly place: Place; readonly damping: number; readonly friction: number } | null
  readonly mimic: Place | null
}

export interface UrdfModel {
  readonly links: ReadonlyMap<string, UrdfLink>
  readonly joints: readonly UrdfJoint[]
  /** Elements that say nothing of what is asked, by name. */
  readonly passedOver: ReadonlyMap<string, number>
}

/** What is read of each element. */
const KNOWN: Readonly<Record<string, readonly string[]>> = {
  robot: ['link', 'joint'],
  link: ['inertial'],
  joint: ['origin', 'parent', 'child', 'axis', 'limit', 'dynamics', 'mimic'],
}

/**
 * @param root of a well-formed file
 * @throws DrystrokeError `file-invalid` when it is no plain URDF at all
 */
export function modelOf(root: XmlElement, mistakes: Mistakes): UrdfModel {
  refuseMacros(root, mistakes.file)
  if (root.name !== 'robot') {
    const advice = 'check that this is the file that was meant'
    throw refusal(mistakes.file, root.place, `<${root.name}>`, '<robot>, the root of a URDF file', advice)
  }
  const links = named(root, 'link', mistakes).map((reader) => linkOf(reader))
  const joints = named(root, 'joint', mistakes).map((reader) => jointOf(reader))
  const model = { links: new Map(links.map((l) => [l.name, l])), joints, passedOver: passedOver(root) }
  checkTree(model, mistakes)
  return model
}

/** Macros that nobody has expanded would be read as other numbers, or none. */
function refuseMacros({ name, place, attributes, children }: XmlElement, file: string): void {
  const advice = 'expand its macros, and name the file that comes out'
  if (name.includes(':')) throw refusal(file, place, `<${name}>`, 'plain URDF', advice)
  for (const [key, { value, place }] of attributes) {
    if (/\$[{(]/.test(value))
      throw refusal(file, place, `${key}=${JSON.stringify(value.slice(0, 60))}`, 'plain URDF', advice)
  }
  for (const child of children) refuseMacros(child, file)
}

/** Elements of one kind with a name of their own. */
function named(root: XmlElement, kind: string, mistakes: Mistakes): Reader[] {
  const seen = new Set<string>()
  return root.children.flatMap((element): Reader[] => {
    if (element.name !== kind) return []
    const name = element.attributes.get('name')
    const reader = new Reader(element, name ? `${kind} ${name.value}` : '', mistakes)
    if (reader.text('name') === '') return []
    if (seen.has(name!.value)) {
      reader.wrong(name!.place, `a second ${kind} of this name`, 'each name once', 'rename one of them')
      return []
    }
    seen.add(name!.value)
    return [reader]
  })
}

function linkOf(link: Reader): UrdfLink {
  const name = link.text('name')
  const { place } = link.element
  const inertial = link.child('inertial')
  if (!inertial) return { name, place, body: null, unphysical: null }
  const [mass, inertia] = [inertial.child('mass'), inertial.child('inertia')]
  for (const [what, found] of [
    ['mass', mass],
    ['inertia', inertia],
  ] as const) {
    if (!found) inertial.wrong(inertial.element.place, `<inertial> without <${what}>`, 'mass and inertia')
  }
  const entry = (key: string) => inertia?.number(key) ?? 0
  const own: Body = {
    mass: mass?.number('value') ?? 0,
    centre: [0, 0, 0],
    inertia: [entry('ixx'), entry('iyy'), entry('izz'), entry('ixy'), entry('ixz'), entry('iyz')],
  }
  const why = mass && inertia ? whyUnphysical(own) : null
  const unphysical = why === null ? null : { why, place: inertial.element.place }
  return { name, place, body: bodyIn(inertial.origin(), own), unphysical }
}

function jointOf(joint: Reader): UrdfJoint {
  const end = (which: 'parent' | 'child'): string => {
    const found = joint.child(which)
    if (!found) joint.wrong(joint.element.place, `no <${which}>`, `<${which} link="..."/>`)
    return found?.text('link') ?? ''
  }
  const axis = joint.child('axis')
  // The format's default.
  const direction = axis?.vector('xyz', [1, 0, 0]) ?? [1, 0, 0]
  const limit = joint.child('limit')
  const dynamics = joint.child('dynamics')
  return {
    name: joint.text('name'),
    place: joint.element.place,
    type: { word: joint.text('type'), place: joint.place('type') },
    parent: end('parent'),
    child: end('child'),
    origin: joint.origin(),
    axis: { direction, place: axis?.place('xyz') ?? joint.element.place },
    limit: limit && {
      place: limit.element.place,
      lower: limit.number('lower', 0),
      upper: limit.number('upper', 0),
      velocity: limit.numberOrNull('velocity'),
      effort: limit.numberOrNull('effort'),
    },
    dynamics: dynamics && {
      place: dynamics.element.place,
      damping: dynamics.number('damping', 0),
      friction: dynamics.number('friction', 0),
    },
    mimic: joint.child('mimic')?.element.place ?? null,
  }
}

/** Every joint joins two links that there are, and no link hangs on two joints. */
function checkTree({ links, joints }: UrdfModel, mistakes: Mistakes): void {
  const carrier = new Map<string, string>()
  for (const { name, place, parent, child } of joints) {
    const where = `joint ${name}`
    for (const link of [parent, child]) {
      if (link === '' || links.has(link)) continue
      const advice = didYouMean(nearest(link, [...links.keys()])) || 'add the link'
      mistakes.add(
        place,
        where,
        `the link "${link}", which the file does not have`,
        'a link of the file',
        advice,
      )
    }
    const other = carrier.get(child)
    if (other !== undefined) {
      const found = `the child link "${child}", which joint ${other} has too`
      mistakes.add(place, where, found, 'a tree: each link hangs on one joint at most')
    }
    carrier.set(child, name)
  }
}

function passedOver(root: XmlElement): Map<string, number> {
  const counts = new Map<string, number>()
  const look = (element: XmlElement): void => {
    const known = KNOWN[element.name]
    if (!known) return
    for (const child of element.children) {
      if (!known.includes(child.name)) counts.set(child.name, (counts.get(child.name) ?? 0) + 1)
      else look(child)
    }
  }
  look(root)
  return counts
}
