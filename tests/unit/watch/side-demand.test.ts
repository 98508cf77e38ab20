/** What a command asks of a side, beside the sound driver's side that is told the same. */
import { expect, it } from 'vitest'
import { ReferenceDriver } from '../../../src/driver/reference.js'
import { SideDemand } from '../../../src/watch/side-demand.js'
import { DEMO } from '../driver/play.js'

const { period } = DEMO.control

/** Commands (s, m/s of both sides) until `end`: for each period whether it counts as steady, and the driver's own side speed. */
function played(commands: readonly (readonly [at: number, speed: number])[], end: number) {
  const demand = new SideDemand(DEMO, 'port')
  const driver = new ReferenceDriver(DEMO)
  const out = driver.parkPose.slice()
  driver.begin()
  const seen: { s: number; steady: number; state: string; speed: number }[] = []
  for (let k = 0; k * period < end; k++) {
    const s = k * period
    const [, surge] = commands.findLast(([at]) => at <= s) ?? [0, 0]
    demand.command(surge, 0)
    demand.sync()
    driver.step({ surge, yaw: 0 }, out)
    const { state, speed } = driver.sides.port
    seen.push({ s, steady: demand.steady, state, speed })
  }
  return seen
}

it('a command from rest is steady as soon as the driver has come to it', () => {
  const seen = played([[0, 0.4]], 4)
  const steady = seen.find((p) => p.steady > 0)!
  const there = seen.find((p) => Math.abs(p.speed - 0.4) < 1e-9)!
  expect(steady.s).toBeCloseTo(there.s, 9)
})

it.each([
  ['while the blade is being lifted', 4.9],
  ['while it is being carried', 6.2],
])('a command that comes %s is not steady before a driver that parks first has come to it', (_, at) => {
  const commands = [
    [0, 0.4],
    [2, 0],
    [at, -0.3],
  ] as const
  const seen = played(commands, at + 8)
  const { state } = seen.findLast((p) => p.s < at)!
  expect(['lifting', 'carrying']).toContain(state)
  const there = seen.find((p) => p.s > at && Math.abs(p.speed + 0.3) < 1e-9)!
  const steady = seen.find((p) => p.s > at && p.steady > 0)!
  expect(steady.s).toBeGreaterThanOrEqual(there.s - 1e-9)
  // Lifting and carrying take their longest times at the most.
  expect(steady.s).toBeLessThan(there.s + 1)
})

it('a command before the dwell is over, or from the park place, waits for nothing', () => {
  for (const at of [3.5, 12]) {
    const seen = played(
      [
        [0, 0.4],
        [2, 0],
        [at, 0.2],
      ],
      at + 5,
    )
    const there = seen.find((p) => p.s > at && Math.abs(p.speed - 0.2) < 1e-9)!
    const steady = seen.find((p) => p.s > at + period && p.steady > 0 && p.steady < 2 * period)!
    expect(steady.s).toBeCloseTo(there.s, 9)
  }
})

it('a command that still changes is not steady, however slowly', () => {
  const demand = new SideDemand(DEMO, 'port')
  for (let k = 0; k < 600; k++) {
    demand.command(0.3 + k * 1e-6, 0)
    demand.sync()
  }
  expect(demand.steady).toBeLessThanOrEqual(period)
})

it('what was asked before is over with the command, and not only with the next control period', () => {
  const demand = new SideDemand(DEMO, 'port')
  const go = (speed: number, seconds: number): void => {
    demand.command(speed, 0)
    for (let k = 0; k * period < seconds; k++) demand.sync()
  }
  go(0.3, 5)
  expect([demand.agreed > 1, demand.steady > 1]).toEqual([true, true])
  demand.command(-0.3, 0)
  expect([demand.agreed, demand.steady]).toEqual([0, 0])
  go(0, 20)
  expect(demand.parking).toBeGreaterThan(1)
  demand.command(0.3, 0)
  expect([demand.parking, demand.steady]).toEqual([0, 0])
  // It needs its dwell anew.
  go(0, DEMO.stroke.dwell / 2)
  expect(demand.parking).toBe(0)
})
