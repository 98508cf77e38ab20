/**
 * A rig whose arms name URDF files, as if all of it were written by hand: so that one schema checks it, and a recording
 * keeps it without the file. Values are read loosely, as in rig-references.ts: the schema complains of their form.
 */
import { dirname, resolve } from 'node:path'
import { DrystrokeError } from '../../errors.js'
import { composed, transformOf } from '../../rigid.js'
import type { Complaint, Path } from '../complaint.js'
import { pose } from '../fields.js'
import { items, textAt, unknownName } from '../loose.js'
import { didYouMean, oneOf } from '../nearest.js'
import { neighbour, readText } from '../read-text.js'
import { type Chain, chainOf, rootsOf, wayTo } from './chain.js'
import { Mistakes, type Place } from './mistakes.js'
import { modelOf, type UrdfModel } from './model.js'
import { jointValues, poseValues, statedOf } from './write-out.js'
import { parseXml } from './xml.js'

export interface WholeRig {
  /** Plain values with every URDF arm written out; an arm about which there are complaints is left as it is. */
  readonly raw: unknown
  /** Of the rig file. */
  readonly complaints: readonly Complaint[]
  /** Of URDF files, a line each. */
  readonly mistakes: readonly string[]
  /** What people should know of what was not read. */
  readonly notes: readonly string[]
  /** Where the value at a path comes from, if a URDF file says it: `file:line:column`. */
  readonly originOf: (path: Path) => string | undefined
}

type Section = Readonly<Record<string, unknown>>

const isSection = (value: unknown): value is Section =>
  typeof value === 'object' && value !== null && !Array.isArray(value)

/** Does any arm name a URDF file? */
export function namesUrdf(raw: unknown): boolean {
  return items(raw, ['arms']).some((arm) => isSection(arm) && Object.hasOwn(arm, 'urdf'))
}

/** @param rigFile from whose folder the paths of URDF files go */
export function wholeRig(raw: unknown, rigFile: string): WholeRig {
  const reading = new Reading(rigFile)
  const arms = items(raw, ['arms']).map((arm, i) => (isSection(arm) ? reading.arm(arm, ['arms', i]) : arm))
  const { complaints, mistakes, notes } = reading
  const originOf = (path: Path) => reading.originOf(path)
  return { raw: { ...(raw as Section), arms }, complaints, mistakes, notes, originOf }
}

class Reading {
  readonly complaints: Complaint[] = []
  readonly mistakes: string[] = []
  readonly notes: string[] = []
  readonly #folder: string
  readonly #models = new Map<string, UrdfModel | null>()
  readonly #origins = new Map<string, string>()

  constructor(rigFile: string) {
    this.#folder = dirname(rigFile)
  }

  originOf(path: Path): string | undefined {
    for (let length = path.length; length > 0; length--) {
      const origin = this.#origins.get(JSON.stringify(path.slice(0, length)))
      if (origin !== undefined) return origin
    }
    return undefined
  }

  /** The arm written out, or as it is. */
  arm(arm: Section, path: Path): Section {
    const file = textAt(arm, ['urdf', 'file'])
    const tip = textAt(arm, ['urdf', 'tip'])
    if (!file || !tip) return arm
    const model = this.#model(file, [...path, 'urdf', 'file'])
    const chain = model && this.#chain(model, file, arm, tip, [...path, 'urdf'])
    const joints = chain && this.#joints(chain, file, arm, path)
    if (!joints) return arm
    const tool = pose('').safeParse(arm.tool)
    const { urdf: _, ...own } = arm
    return {
      ...own,
      joints,
      tool: tool.success ? poseValues(composed(chain.tip, transformOf(tool.data))) : arm.tool,
    }
  }

  /** Each file is read once, however many arms it is for. */
  #model(file: string, path: Path): UrdfModel | null {
    const known = this.#models.get(file)
    if (known !== undefined) return known
    const model = this.#read(file, path)
    this.#models.set(file, model)
    if (model && model.passedOver.size > 0) {
      const what = [...model.passedOver].map(([name, count]) => `${count} <${name}>`).join(', ')
      this.notes.push(`${this.#pathOf(file)}: passed over ${what}: nothing is read of them`)
    }
    return model
  }

  #pathOf(file: string): string {
    return file.startsWith('/') || this.#folder === '.' ? file : `${this.#folder}/${file}`
  }

  #read(file: string, path: Path): UrdfModel | null {
    const shown = this.#pathOf(file)
    const mistakes = new Mistakes(shown)
    try {
      const model = modelOf(parseXml(readText(resolve(shown), 'XML'), shown), mistakes)
      this.mistakes.push(...mistakes.lines)
      return mistakes.lines.length === 0 ? model : null
    } catch (error) {
      if (!(error instanceof DrystrokeError)) throw error
      if (error.code === 'file-access') {
        const found = `${JSON.stringify(file)}, where nothing can be read`
        const expected = 'the path of a URDF file, from the folder of this file'
        this.complaints.push({
          path,
          at: 'value',
          found,
          expected,
          advice: didYouMean(neighbour(shown)) || 'check the path',
        })
      } else this.mistakes.push(error.message)
      return null
    }
  }

  #chain(model: UrdfModel, file: string, arm: Section, tip: string, path: Path): Chain | null {
    const names = [...model.links.keys()]
    const roots = rootsOf(model)
    const stated = textAt(arm, ['urdf', 'base-link'])
    const base = stated ?? roots[0]
    const unknown = ([key, name]: readonly [string, string | undefined]) =>
      name === undefined || names.includes(name)
        ? []
        : [unknownName([...path, key], name, `no link of ${file}`, names)]
    const complaints = [['tip', tip] as const, ['base-link', stated] as const].flatMap(unknown)
    if (stated === undefined && roots.length !== 1) {
      const found = `no key "base-link", and ${roots.length} links of ${file} that no joint carries`
      const expected = roots.length > 0 ? oneOf(roots) : 'a link of the file'
      complaints.push({ path: [...path, 'base-link'], at: 'section', found, expected, advice: 'add it' })
    }
    this.complaints.push(...complaints)
    if (complaints.length > 0) return null
    const way = wayTo(model, base!, tip)
    const mistakes = new Mistakes(this.#pathOf(file))
    const notes: string[] = []
    const chain = way && chainOf(model, way, mistakes, notes)
    // Two arms of one file: what is said of it is said once.
    this.mistakes.push(...mistakes.lines.filter((line) => !this.mistakes.includes(line)))
    this.notes.push(...notes.filter((note) => !this.notes.includes(note)))
    if (chain && mistakes.lines.length > 0) return null
    if (chain && chain.joints.length > 0) return chain
    const found = `"${tip}", ${chain ? 'with no joint that turns between it and' : 'which does not hang on'} "${base}"`
    this.complaints.push({ path: [...path, 'tip'], at: 'value', found, expected: 'the tip of an arm' })
    return null
  }

  /** The rig's own entries, matched by name to the joints of the chain and filled up; null when they do not match. */
  #joints({ joints }: Chain, file: string, arm: Section, path: Path): Section[] | null {
    const before = this.complaints.length
    const given = items(arm, ['joints'])
    const names = joints.map(({ joint }) => joint.name)
    const chain = `the ${names.length} joints of ${file} between base link and tip, in their order: ${names.join(', ')}`
    const filled = given.map((entry, i): Section => {
      if (!isSection(entry)) return {}
      const here = [...path, 'joints', i]
      const key = textAt(entry, ['urdf']) === undefined ? 'name' : 'urdf'
      const name = textAt(entry, [key])
      if (name === undefined) return entry
      if (!names.includes(name)) {
        const what = `no joint of ${file} that turns between base link and tip`
        this.complaints.push(unknownName([...here, key], name, what, names))
        return entry
      }
      if (names[i] !== name) {
        const found = `"${name}" in place ${i + 1}`
        this.complaints.push({ path: [...here, key], at: 'value', found, expected: chain })
        return entry
      }
      const { joint, taken } = jointValues(entry, statedOf(joints[i]!))
      for (const { path: inner, place } of taken) this.#origin([...here, ...inner], file, place)
      this.#lackingLimits(joint, joints[i]!.joint.type.word, file, here)
      return joint
    })
    if (given.length < names.length) {
      const found = `${given.length} joints`
      this.complaints.push({ path: [...path, 'joints'], at: 'value', found, expected: chain })
    }
    return this.complaints.length > before || given.length === 0 ? null : filled
  }

  #origin(path: Path, file: string, { line, column }: Place): void {
    this.#origins.set(JSON.stringify(path), `${this.#pathOf(file)}:${line}:${column}`)
  }

  /** What neither file says. */
  #lackingLimits(joint: Section, type: string, file: string, path: Path): void {
    const limits = isSection(joint.limits) ? joint.limits : {}
    for (const [key, example, name] of [
      ['position', '["-90 deg", "90 deg"]', 'lower and upper'],
      ['speed', '"90 deg/s"', 'velocity'],
      ['torque', '"20 N m"', 'effort'],
    ] as const) {
      if (Object.hasOwn(limits, key)) continue
      const why =
        key === 'position' && type === 'continuous'
          ? `${file} says that the joint is continuous`
          : `${file} states no ${name} of a <limit> for the joint`
      const found = `no key "${key}", and ${why}`
      const expected = `a limit, such as ${example}`
      this.complaints.push({
        path: [...path, 'limits', key],
        at: 'section',
        found,
        expected,
        advice: 'add it',
      })
    }
  }
}
