/**
 * An XML file as elements and attributes with their places. Nothing of it can reach outside or grow: document type
 * declarations, and with them all entities but the five of XML itself, are refused, and so is depth beyond need.
 */
import { SaxesParser } from 'saxes'
import { type Place, refusal } from './mistakes.js'

export interface XmlAttribute {
  readonly value: string
  readonly place: Place
}

export interface XmlElement {
  readonly name: string
  readonly place: Place
  readonly attributes: ReadonlyMap<string, XmlAttribute>
  readonly children: readonly XmlElement[]
}

/** The deepest that URDF has of its own is five. */
const MOST_DEPTH = 32
const CHECK = 'check that this is the file that was meant'

interface OpenElement extends XmlElement {
  readonly attributes: Map<string, XmlAttribute>
  readonly children: XmlElement[]
}

/**
 * @param file as it shall stand in messages
 * @throws DrystrokeError `file-invalid` when the text is not well-formed (XML 1.0), or hostile
 */
export function parseXml(text: string, file: string): XmlElement {
  const placeOf = places(text)
  const parser = new SaxesParser({ position: true })
  const open: OpenElement[] = []
  let root: XmlElement | undefined
  /** Characters from the beginning, behind what was read last of a start tag. */
  let read = 0
  parser.on('error', ({ message }) => {
    const said = message.replace(/^\d+:\d+: /, '').replace(/\.$/, '')
    throw refusal(file, placeOf(parser.position - 1), `a mistake of form (${said})`, 'XML 1.0', CHECK)
  })
  parser.on('doctype', () => {
    const place = placeOf(text.lastIndexOf('<!DOCTYPE', parser.position))
    const found = 'a document type declaration'
    throw refusal(file, place, found, 'none, because entities can fill the memory', 'remove it')
  })
  parser.on('opentagstart', ({ name }) => {
    // One character behind the name is read.
    const place = placeOf(parser.position - name.length - 2)
    if (open.length === MOST_DEPTH)
      throw refusal(file, place, 'elements nested too deeply', `at most ${MOST_DEPTH} levels`, CHECK)
    const element: OpenElement = { name, place, attributes: new Map(), children: [] }
    open.at(-1)?.children.push(element)
    root ??= element
    open.push(element)
    read = parser.position - 1
  })
  parser.on('attribute', ({ name, value }) => {
    const start = read + text.slice(read, parser.position).search(/\S/)
    open.at(-1)!.attributes.set(name, { value, place: placeOf(start) })
    read = parser.position
  })
  parser.on('closetag', () => void open.pop())
  parser.write(text).close()
  return root!
}

/** @returns what tells line and column of a character */
function places(text: string): (offset: number) => Place {
  const starts = [0]
  for (let i = text.indexOf('\n'); i >= 0; i = text.indexOf('\n', i + 1)) starts.push(i + 1)
  return (offset) => {
    const at = Math.min(Math.max(offset, 0), text.length)
    let low = 0
    let high = starts.length - 1
    while (low < high) {
      const middle = (low + high + 1) >> 1
      if (starts[middle]! <= at) low = middle
      else high = middle - 1
    }
    return { line: low + 1, column: at - starts[low]! + 1 }
  }
}
