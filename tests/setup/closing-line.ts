/**
 * Ends the output of a test run with exactly one line: `N passed, N failed`, and `, N skipped` when there are any.
 * What fails outside of a test (collecting, a hook, an unhandled error) counts as a failure as well. With CI=true a
 * skipped test fails the run: there nothing may be missing that a suite needs.
 */
import type { Reporter, SerializedError, TestModule } from 'vitest/node'

export default class ClosingLine implements Reporter {
  #passed = 0
  #failed = 0
  #skipped = 0

  onInit(): void {
    // At the very end, so that no other reporter and no late error can write after it.
    process.once('exit', (status) => {
      if (process.env.CI === 'true' && this.#skipped > 0) {
        console.log(`\nWith CI=true every suite must run: ${this.#skipped} skipped tests count as failed.`)
        this.#failed += this.#skipped
        this.#skipped = 0
      }
      // A run that went wrong without a failed test, in its set-up for one, must not read like a good one.
      if (status !== 0) this.#failed = Math.max(this.#failed, 1)
      if (this.#failed > 0) process.exitCode = status || 1
      const skipped = this.#skipped > 0 ? `, ${this.#skipped} skipped` : ''
      console.log(`${this.#passed} passed, ${this.#failed} failed${skipped}`)
    })
  }

  onTestRunEnd(modules: readonly TestModule[], unhandled: readonly SerializedError[]): void {
    this.#passed = 0
    this.#failed = unhandled.length
    this.#skipped = 0
    for (const module of modules) {
      this.#failed += module.errors().length
      for (const suite of module.children.allSuites()) this.#failed += suite.errors().length
      for (const test of module.children.allTests()) {
        const { state } = test.result()
        if (state === 'passed') this.#passed++
        else if (state === 'failed') this.#failed++
        else this.#skipped++
      }
    }
  }
}
