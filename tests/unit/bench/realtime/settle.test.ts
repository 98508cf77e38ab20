/** What is done with garbage before the first tick, in a process of its own whose V8 was told nothing. */
import { execFileSync } from 'node:child_process'
import { expect, test } from 'vitest'

test('garbage of before is gone, and its pages have been gone through', () => {
  const built = new URL('../../../../dist/bench/realtime/warm-up.js', import.meta.url).href
  const program = `
    import { getHeapSpaceStatistics } from 'node:v8'
    import { constants, PerformanceObserver } from 'node:perf_hooks'
    import { settle } from ${JSON.stringify(built)}
    let major = 0
    new PerformanceObserver((list) => {
      for (const { detail } of list.getEntries()) if (detail.kind === constants.NODE_PERFORMANCE_GC_MAJOR) major++
    }).observe({ entryTypes: ['gc'] })
    const old = () => getHeapSpaceStatistics().find((s) => s.space_name === 'old_space')
    let kept = Array.from({ length: 300000 }, (_, i) => ({ i, name: 'x' + i }))
    settle()
    const full = old().space_used_size
    kept = null
    settle()
    const { space_used_size: used, space_available_size: free } = old()
    setTimeout(() => console.log(JSON.stringify([major >= 2, full - used > 10e6, free > 1e6])), 50)`
  const told = execFileSync(
    process.execPath,
    ['--single-threaded-gc', '--input-type=module', '-e', program],
    { encoding: 'utf8' },
  )
  expect(JSON.parse(told)).toEqual([true, true, true])
})
