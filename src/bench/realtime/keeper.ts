/** The parent's hold on a recording: writes down what the bench process sends, and says how far it got, or that it cannot. */
import type { RecordingFiles } from '../../record/write.js'
import type { Order } from './message.js'

export class Keeper {
  readonly #files: RecordingFiles
  readonly #order: (order: Order) => void
  /** The first that was in the way. */
  #unwritten: { readonly error: unknown } | null = null
  /** Bytes that came for either file. */
  #frames = 0
  #events = 0
  #told = 0

  /** @param order hands it to the bench process and does not wait */
  constructor(files: RecordingFiles, order: (order: Order) => void) {
    this.#files = files
    this.#order = order
  }

  /** Once something could not be written nothing is any more: a recording has no holes that nobody knows of. */
  write(frames: Uint8Array, events: Uint8Array): void {
    this.#frames += frames.length
    this.#events += events.length
    if (this.#unwritten !== null) return
    try {
      this.#files.append(frames, events)
    } catch (error) {
      this.#unwritten = { error }
      this.#order({ kind: 'unwritten', says: error instanceof Error ? error.message : String(error) })
    }
  }

  /** What cannot be written is out of the bench process's hands as well. */
  tell(): void {
    if (this.#told === this.#frames + this.#events) return
    this.#told = this.#frames + this.#events
    this.#order({ kind: 'written', length: { frames: this.#frames, events: this.#events } })
  }

  /**
   * @param refused the bench process has said that there is no run: where nothing of one came, nothing stays
   * @throws what was in the way of writing
   */
  close(refused: boolean): void {
    if (refused && this.#frames + this.#events === 0) this.#files.discard()
    else this.#files.close()
    if (this.#unwritten) throw this.#unwritten.error
  }
}
