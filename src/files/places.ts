/** Where a value or a key stands in the text of a YAML document. */
import {
  type Document,
  isAlias,
  isMap,
  isNode,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  type YAMLMap,
} from 'yaml'
import type { Complaint, Path } from './complaint.js'

/** Keys of each section, looked up once: a file of mistakes asks for every one of them. */
export class Places {
  readonly #document: Document
  readonly #keys = new WeakMap<YAMLMap, Map<string, Pair>>()

  constructor(document: Document) {
    this.#document = document
  }

  /** Takes a section in. Returns the keys that stand in it for a second time. */
  add(section: YAMLMap): Pair[] {
    const keys = new Map<string, Pair>()
    const repeated: Pair[] = []
    for (const pair of section.items) {
      const key = keyOf(pair)
      if (keys.has(key)) repeated.push(pair)
      // The last one counts, as in the plain values.
      keys.set(key, pair)
    }
    this.#keys.set(section, keys)
    return repeated
  }

  /** Characters from the beginning of the text. */
  offsetOf({ path, at }: Complaint): number {
    let key: Node | null = null
    let node = this.#document.contents as Node | null
    // A key that is missing ends the way at the section that lacks it.
    for (const step of path) {
      const next = this.#child(node, step)
      if (!next) break
      key = next.key ?? next.value
      node = next.value
    }
    const chosen = at === 'value' ? (node ?? key) : (key ?? node)
    return chosen?.range?.[0] ?? 0
  }

  #child(parent: Node | null, step: Path[number]): { key: Node | null; value: Node | null } | undefined {
    const node = isAlias(parent) ? parent.resolve(this.#document) : parent
    if (isMap(node)) {
      const pair = this.#keys.get(node)?.get(String(step))
      return pair && { key: nodeOrNull(pair.key), value: nodeOrNull(pair.value) }
    }
    if (isSeq(node) && typeof step === 'number') return { key: null, value: nodeOrNull(node.items[step]) }
    return undefined
  }
}

export function keyOf({ key }: Pair): string {
  return String(isScalar(key) ? key.value : key)
}

export function nodeOrNull(value: unknown): Node | null {
  return isNode(value) ? value : null
}
