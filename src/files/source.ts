/** A YAML file as text, as plain values, and as places in the text. Knows nothing of rigs and scenarios. */
import { type Alias, type Document, type ErrorCode, LineCounter, parseDocument, visit } from 'yaml'
import { DrystrokeError } from '../errors.js'
import { type Complaint, sentenceOf } from './complaint.js'
import { keyOf, nodeOrNull, Places } from './places.js'

const MOST_BYTES = 1_000_000
/** Aliases are for a value or two used again; more than this in one place is an attempt to fill the memory. */
const MOST_ALIASES = 100
const MOST_SHOWN = 200

/** Messages of the parser that only follow from an earlier mistake, if there is one. */
const ASKEW = new Set([
  'All mapping items must start at the same column',
  'All sequence items must start at the same column',
])

/** Where the parser's words are for programmers. */
const SAYS: Partial<Record<ErrorCode, string>> = {
  MULTIPLE_DOCS: 'a second document begins here',
  RESOURCE_EXHAUSTION: 'values nested too deeply',
  TAG_RESOLVE_FAILED: 'a tag',
}

const ADVICE: Partial<Record<ErrorCode, string>> = {
  MULTIPLE_DOCS: 'put each into a file of its own',
  RESOURCE_EXHAUSTION: 'check that this is the file that was meant',
  TAB_AS_INDENT: 'indent with spaces',
  TAG_RESOLVE_FAILED: 'remove the tag',
}

function oneLine(message: string): string {
  return message.replace(/\s+/g, ' ').replace(/[.:]$/, '')
}

export interface Mistake {
  readonly offset: number
  readonly text: string
}

export class Source {
  /** As it shall stand in messages. */
  readonly file: string
  /** Plain values; undefined when the text is not well-formed. */
  readonly raw: unknown
  readonly #lines = new LineCounter()
  readonly #document: Document
  readonly #places: Places
  readonly #mistakes: Mistake[] = []

  /** @throws DrystrokeError `file-invalid` when the text is empty, binary, too large or nests too deeply to be read */
  constructor(text: string, file: string) {
    this.file = file
    if (text.trim() === '')
      throw this.#refusal('an empty file', 'a file in YAML; see the samples in rigs and scenarios')
    if (Buffer.byteLength(text) > MOST_BYTES) {
      throw this.#refusal(
        'more than 1 MB',
        'at most 1 MB of YAML; check that this is the file that was meant',
      )
    }
    if (text.includes('\0'))
      throw this.#refusal('binary data', 'text in YAML; check that this is the file that was meant')
    try {
      this.#document = parseDocument(text, {
        lineCounter: this.#lines,
        // The parser's own check takes the square of the number of keys; ours is in places.ts.
        uniqueKeys: false,
        prettyErrors: false,
        logLevel: 'error',
      })
    } catch (cause) {
      if (cause instanceof RangeError) throw this.#refusal('values nested too deeply', 'a few levels', cause)
      throw cause
    }
    this.#places = new Places(this.#document)
    if (this.#takeErrors() && this.#takeNodes()) this.raw = this.#values()
  }

  complain(complaint: Complaint): void {
    const text = sentenceOf(this.raw, complaint)
    this.#mistakes.push({ offset: this.#places.offsetOf(complaint), text })
  }

  /**
   * @param elsewhere lines about files that this one names
   * @throws DrystrokeError `file-invalid` with every mistake, in the order of the file, if there is any
   */
  throwIfMistaken(elsewhere: readonly string[] = []): void {
    const count = this.#mistakes.length + elsewhere.length
    if (count === 0) return
    const sorted = [...this.#mistakes].sort((a, b) => a.offset - b.offset)
    const here = sorted.map(({ offset, text }) => {
      const { line, col } = this.#lines.linePos(offset)
      return `${this.file}:${line}:${col}: ${text}`
    })
    const entries = [...here, ...elsewhere].slice(0, MOST_SHOWN)
    const more = count - entries.length
    if (more > 0) entries.push(`${this.file}: and ${more} more mistakes`)
    throw new DrystrokeError('file-invalid', entries.join('\n'), { file: this.file, mistakes: count })
  }

  #refusal(found: string, expected: string, cause?: unknown): DrystrokeError {
    const text = `${this.file}:1:1: found ${found}; expected ${expected}`
    return new DrystrokeError('file-invalid', text, { file: this.file, mistakes: 1 }, cause)
  }

  /** Takes over what the parser says. True when the values can be trusted all the same. */
  #takeErrors(): boolean {
    let trusted = true
    let lastLine = 0
    for (const { code, pos, message } of [...this.#document.errors, ...this.#document.warnings]) {
      // One slip of the pen upsets the parser more than once: the first message of a line is the one to read, and
      // items that stand askew are so because of what came before them.
      const { line } = this.#lines.linePos(pos[0])
      if (line === lastLine || (!trusted && ASKEW.has(message))) continue
      trusted = false
      lastLine = line
      const says = `found a mistake of form (${SAYS[code] ?? oneLine(message)}); expected YAML 1.2; `
      this.#mistakes.push({
        offset: pos[0],
        text: says + (ADVICE[code] ?? 'check indentation, quotes and brackets here'),
      })
    }
    return trusted
  }

  /** Looks at every section and alias once. True when the values can be trusted. */
  #takeNodes(): boolean {
    const aliases: Alias[] = []
    visit(this.#document, {
      Alias: (_, alias) => void aliases.push(alias),
      Map: (_, section) => {
        for (const pair of this.#places.add(section)) {
          const says = `found the key "${keyOf(pair)}" for the second time in its section; expected each key once; remove one`
          this.#mistakes.push({ offset: nodeOrNull(pair.key)?.range?.[0] ?? 0, text: says })
        }
      },
    })
    if (aliases.length > MOST_ALIASES) {
      throw this.#refusal(`${aliases.length} aliases`, `at most ${MOST_ALIASES}; write the values out`)
    }
    const lost = aliases.filter((alias) => !alias.resolve(this.#document))
    for (const { source, range } of lost) {
      const says = `found the alias *${source}, which has no anchor; expected &${source} above it; write the value out`
      this.#mistakes.push({ offset: range?.[0] ?? 0, text: says })
    }
    return lost.length === 0
  }

  #values(): unknown {
    try {
      return this.#document.toJS({ maxAliasCount: MOST_ALIASES })
    } catch (cause) {
      // The parser has two reasons left: aliases of aliases that multiply, and depth.
      if (cause instanceof ReferenceError) {
        throw this.#refusal('aliases of aliases that multiply', 'few aliases; write the values out', cause)
      }
      if (cause instanceof RangeError) throw this.#refusal('values nested too deeply', 'a few levels', cause)
      throw cause
    }
  }
}
