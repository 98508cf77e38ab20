/**
 * Counts a joint's feedback by the SYNC it answers: what should have come, what was lost, came twice, or came only after the next SYNC.
 *
 * A gap counts as lost frames once the joint is back; when as many come at once then, they were late. A gap that never ends is not counted.
 */
export class FeedbackCount {
  expected = 0
  lost = 0
  doubled = 0
  late = 0
  #index = -1
  /** Of the last gap, what may still come. */
  #owed = 0

  /** @param index of the SYNC that this frame answers @returns whether it came late */
  see(index: number): boolean {
    const last = this.#index
    this.#index = index
    if (last < 0) this.#owed = 0
    else if (index !== last) {
      this.expected += index - last
      this.lost += index - last - 1
      this.#owed = index - last - 1
    } else if (this.#owed > 0) {
      this.#owed--
      this.lost--
      this.late++
      return true
    } else this.doubled++
    return false
  }

  /** What comes next is the first again. */
  begin(): void {
    this.#index = -1
  }

  share(what: 'lost' | 'doubled' | 'late'): number {
    return this[what] / Math.max(1, this.expected)
  }
}
