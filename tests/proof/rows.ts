/** What the runs of a proof came to, one line of text for each, so that a proof that was broken off goes on where it was. */
import { appendFileSync, existsSync, readFileSync, writeFileSync } from 'node:fs'
import type { Outcome } from './run.js'

export interface Row extends Outcome {
  readonly key: string
}

export class Rows {
  readonly #file: string
  readonly #rows = new Map<string, Row>()

  /**
   * @param digest of all that decides what a run comes to: rows of another one are not taken over
   */
  constructor(file: string, digest: string) {
    this.#file = file
    const [head, ...lines] = existsSync(file) ? readFileSync(file, 'utf8').split('\n') : []
    if (head !== digest) {
      writeFileSync(file, `${digest}\n`)
      return
    }
    // The last line is empty, or half of one.
    for (const line of lines.slice(0, -1)) {
      const row: Row = JSON.parse(line)
      this.#rows.set(row.key, row)
    }
    writeFileSync(
      file,
      [digest, ...[...this.#rows.values()].map((row) => JSON.stringify(row)), ''].join('\n'),
    )
  }

  get size(): number {
    return this.#rows.size
  }

  get(key: string): Row | undefined {
    return this.#rows.get(key)
  }

  add(row: Row): void {
    this.#rows.set(row.key, row)
    appendFileSync(this.#file, `${JSON.stringify(row)}\n`)
  }

  get all(): ReadonlyMap<string, Row> {
    return this.#rows
  }
}

/** A run that came to nothing: it stands in the matrix as what it is. */
export function defectRow(key: string, says: string): Row {
  return {
    key,
    outcome: 'defect',
    sentence: says,
    findings: [],
    stop: null,
    onset: null,
    excursion: 0,
    strokes: 0,
    afloat: false,
    craft: null,
    length: 0,
  }
}
