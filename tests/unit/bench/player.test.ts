import { describe, expect, it } from 'vitest'
import { Player } from '../../../src/bench/player.js'
import type { Scenario } from '../../../src/files/scenario.js'

const scenario = (parts: Partial<Scenario>): Scenario => ({
  name: 'test',
  about: '',
  duration: 10,
  plant: 'dry',
  commands: [],
  faults: [],
  operator: [],
  expect: { outcome: 'finish', strokes: [], parked: true },
  ...parts,
})

describe('player', () => {
  it('holds zero before the first command and each command until the next', () => {
    const player = new Player(
      scenario({
        commands: [
          { at: 1, surge: 0.3, yaw: 0, over: 0 },
          { at: 4, surge: 0, yaw: 0.2, over: 0 },
        ],
      }),
    )
    expect([0.99, 1, 3.99, 4, 9].map((s) => player.command(s))).toEqual([
      { surge: 0, yaw: 0 },
      { surge: 0.3, yaw: 0 },
      { surge: 0.3, yaw: 0 },
      { surge: 0, yaw: 0.2 },
      { surge: 0, yaw: 0.2 },
    ])
  })

  it('ramps linearly from what was in force, also when a ramp cuts another short', () => {
    const player = new Player(
      scenario({
        commands: [
          { at: 0, surge: 0.4, yaw: 0, over: 2 },
          { at: 1, surge: 0, yaw: 0, over: 1 },
        ],
      }),
    )
    expect(player.command(0.5).surge).toBeCloseTo(0.1, 12)
    expect(player.command(1).surge).toBeCloseTo(0.2, 12)
    expect(player.command(1.5).surge).toBeCloseTo(0.1, 12)
    expect(player.command(2).surge).toBe(0)
  })

  it('gives each fault edge and each operator action once, in order of time', () => {
    const fault = { at: 2, lasts: 1, fault: 'silent', place: 0, other: -1, amount: 0 } as const
    const player = new Player(
      scenario({
        faults: [fault, { ...fault, at: 1, lasts: Number.POSITIVE_INFINITY, place: 1 }],
        operator: [{ at: 3, action: 'stop' }],
      }),
    )
    const seen: string[] = []
    for (let s = 0; s <= 5; s += 0.5) {
      for (const e of player.faults(s))
        seen.push(`${s} joint ${e.fault.place} ${e.begins ? 'begins' : 'ends'}`)
      for (const a of player.actions(s)) seen.push(`${s} ${a.action}`)
    }
    expect(seen).toEqual(['1 joint 1 begins', '2 joint 0 begins', '3 joint 0 ends', '3 stop'])
  })

  it('never brings back a command from before a stop', () => {
    const player = new Player(
      scenario({
        commands: [
          { at: 1, surge: 0.3, yaw: 0.1, over: 0 },
          { at: 8, surge: 0.2, yaw: 0, over: 2 },
        ],
      }),
    )
    player.forget(5)
    expect(player.command(6)).toEqual({ surge: 0, yaw: 0 })
    expect(player.command(9)).toEqual({ surge: 0.1, yaw: 0 })
  })

  it('is over at its duration', () => {
    const player = new Player(scenario({}))
    expect([player.over(9.999), player.over(10)]).toEqual([false, true])
  })
})
