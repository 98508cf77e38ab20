/** Hold-to-run: the approach goes on while a person holds it, rests when it is let go of, and that is no stop. */
import { expect, it } from 'vitest'
import { nanos } from '../../src/clock.js'
import { Workbench } from '../setup/bench.js'
import { change, DEMO_RIG } from '../setup/runs.js'

const DEG = Math.PI / 180

it('nothing moves before it is held; let go of, the arms rest on their way; held again, the run goes on', () => {
  // Slow, so that there is time to let go.
  const table = new Workbench(change(DEMO_RIG, 'tip-speed: "250 mm/s"', 'tip-speed: "20 mm/s"'))
  const { bench, events } = table.bench(undefined, undefined, undefined, undefined, false, true)
  const pose = () => {
    const q = new Float64Array(table.rig.joints.length)
    table.plant.witness(table.time.now(), q)
    return q
  }
  const apart = (a: Float64Array, b: Float64Array) => Math.max(...a.map((x, j) => Math.abs(x - b[j]!)))
  const wait = (s: number) => {
    const end = table.time.now() + nanos(s)
    table.run(bench, () => table.time.now() >= end)
  }

  table.run(bench, () => bench.stage === 'approach')
  const start = pose()
  wait(3)
  expect(apart(pose(), start)).toBeLessThan(0.1 * DEG)

  bench.hold(true)
  wait(3)
  bench.hold(false)
  wait(1)
  const rested = pose()
  expect(apart(rested, start)).toBeGreaterThan(0.2 * DEG)
  wait(3)
  expect(bench.stage).toBe('approach')
  expect(apart(pose(), rested)).toBeLessThan(0.1 * DEG)

  bench.hold(true)
  table.run(bench)
  expect(events.at(-1)).toMatchObject({ kind: 'end', reason: 'completed' })
  expect(events.some((e) => e.kind === 'stop')).toBe(false)
  expect(events.flatMap((e) => (e.kind === 'hold' ? [e.held] : []))).toEqual([true, false, true])
})
