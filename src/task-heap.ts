/** Tasks ordered by (time in ns, order of asking): what every scheduler keeps them in. */

export class TaskHeap {
  #order = 0
  // Three parallel arrays make one heap: no object an entry, so that millions of frames cost no garbage.
  readonly #times: number[] = []
  readonly #orders: number[] = []
  readonly #tasks: (() => void)[] = []

  /** When the first task is due; Infinity when there is none. */
  get next(): number {
    return this.#times.length > 0 ? this.#times[0]! : Infinity
  }

  add(due: number, task: () => void): void {
    const times = this.#times
    const orders = this.#orders
    const tasks = this.#tasks
    const order = this.#order++
    let i = times.length
    times.push(due)
    orders.push(order)
    tasks.push(task)
    while (i > 0) {
      const up = (i - 1) >> 1
      const upTime = times[up]!
      if (upTime < due || (upTime === due && orders[up]! < order)) break
      times[i] = upTime
      orders[i] = orders[up]!
      tasks[i] = tasks[up]!
      i = up
    }
    times[i] = due
    orders[i] = order
    tasks[i] = task
  }

  /** Takes the first task out. There must be one: see `next`. */
  take(): () => void {
    const times = this.#times
    const orders = this.#orders
    const tasks = this.#tasks
    const task = tasks[0]!
    const time = times.pop()!
    const order = orders.pop()!
    const last = tasks.pop()!
    const n = times.length
    if (n > 0) {
      let i = 0
      for (;;) {
        let child = 2 * i + 1
        if (child >= n) break
        const right = child + 1
        if (
          right < n &&
          (times[right]! < times[child]! ||
            (times[right] === times[child] && orders[right]! < orders[child]!))
        ) {
          child = right
        }
        if (times[child]! > time || (times[child] === time && orders[child]! > order)) break
        times[i] = times[child]!
        orders[i] = orders[child]!
        tasks[i] = tasks[child]!
        i = child
      }
      times[i] = time
      orders[i] = order
      tasks[i] = last
    }
    return task
  }

  clear(): void {
    this.#times.length = 0
    this.#orders.length = 0
    this.#tasks.length = 0
  }
}
