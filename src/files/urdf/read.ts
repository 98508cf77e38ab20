/** Reading values of URDF elements: SI numbers throughout (m, rad, kg, N m), as the format has it. */

import { type Transform, transformOf } from '../../rigid.js'
import type { Vector3 } from '../rig.js'
import type { Mistakes, Place } from './mistakes.js'
import type { XmlElement } from './xml.js'

const NUMBER = /^[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?$/

/** One element, read; what is wrong with it is said once, and then what would do no harm stands in its place. */
export class Reader {
  readonly element: XmlElement
  /** Such as `joint elbow`, for messages. */
  readonly where: string
  readonly #mistakes: Mistakes

  constructor(element: XmlElement, where: string, mistakes: Mistakes) {
    this.element = element
    this.where = where
    this.#mistakes = mistakes
  }

  /** The child of this name, read in turn, or null. */
  child(name: string): Reader | null {
    const [first, second] = this.element.children.filter((child) => child.name === name)
    if (second) this.wrong(second.place, `<${name}> for the second time`, 'it once', 'remove one')
    return first ? new Reader(first, this.where, this.#mistakes) : null
  }

  wrong(place: Place, found: string, expected: string, advice = ''): void {
    this.#mistakes.add(place, this.where, found, expected, advice)
  }

  /** The attribute's text; empty, and a mistake, when it is missing. */
  text(name: string): string {
    const value = this.element.attributes.get(name)?.value ?? ''
    if (value === '') this.#lacks(name, 'a name')
    return value
  }

  place(name: string): Place {
    return this.element.attributes.get(name)?.place ?? this.element.place
  }

  /** @param absent what a missing attribute means; undefined: it must not be missing */
  number(name: string, absent?: number): number {
    const attribute = this.element.attributes.get(name)
    if (attribute) return this.#numbers(name, attribute.value, 1)?.[0] ?? 0
    if (absent === undefined) this.#lacks(name, 'a number')
    return absent ?? 0
  }

  /** null: the attribute is missing */
  numberOrNull(name: string): number | null {
    return this.element.attributes.has(name) ? this.number(name) : null
  }

  vector(name: string, absent: Vector3): Vector3 {
    const attribute = this.element.attributes.get(name)
    if (!attribute) return absent
    const [x, y, z] = this.#numbers(name, attribute.value, 3) ?? [0, 0, 0]
    return [x!, y!, z!]
  }

  /** The element's own <origin>, or none: the frames are one. */
  origin(): Transform {
    const origin = this.child('origin')
    const zero: Vector3 = [0, 0, 0]
    return transformOf({ at: origin?.vector('xyz', zero) ?? zero, turn: origin?.vector('rpy', zero) ?? zero })
  }

  #lacks(name: string, expected: string): void {
    const found = `<${this.element.name}> without ${name}`
    this.wrong(this.element.place, found, `${name}="..." with ${expected}`)
  }

  #numbers(name: string, text: string, count: 1 | 3): number[] | null {
    const words = text.trim().split(/\s+/)
    const values = words.map(Number)
    if (words.length === count && words.every((w) => NUMBER.test(w)) && values.every(Number.isFinite))
      return values
    const expected = count === 1 ? 'one number, such as "0.5"' : 'three numbers, such as "0 0 0.5"'
    this.wrong(this.place(name), `${name}=${JSON.stringify(text.slice(0, 60))}`, expected)
    return null
  }
}
