/** How often young garbage is collected, and that it is. */
import { execFileSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { expect, test } from 'vitest'
import { tidier } from '../../../../src/bench/realtime/tidy.js'

test.each([
  ['200 Hz', 0.005, 4],
  ['1 kHz', 0.001, 20],
  ['20 Hz', 0.05, 1],
])('at %s', (_, period, every) => {
  const at: number[] = []
  let ticks = 0
  const tidy = tidier(period, () => at.push(ticks))
  for (; ticks < 3 * every; ticks++) tidy(ticks)
  expect(at).toEqual([0, every, 2 * every])
})

test('V8 collects the young space then, and nothing is asked of a V8 that does not listen', () => {
  const dist = fileURLToPath(new URL('../../../../dist/bench/realtime/tidy.js', import.meta.url))
  const program = `
    import { PerformanceObserver, constants } from 'node:perf_hooks'
    import { tidier } from ${JSON.stringify(dist)}
    let minor = 0
    new PerformanceObserver((list) => {
      for (const { detail } of list.getEntries()) if (detail.kind === constants.NODE_PERFORMANCE_GC_MINOR) minor++
    }).observe({ entryTypes: ['gc'] })
    const tidy = tidier(0.02)
    for (let k = 0; k < 10; k++) tidy(k)
    setTimeout(() => console.log(minor), 50)`
  const minor = (...flags: string[]): number =>
    Number(
      execFileSync(process.execPath, [...flags, '--input-type=module', '-e', program], { encoding: 'utf8' }),
    )
  expect(minor('--expose-gc')).toBeGreaterThanOrEqual(10)
  expect(minor()).toBeLessThan(10)
})
