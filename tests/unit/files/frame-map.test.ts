/** How a joint's numbers are to be read, from a frame map and the joint's own sign and zero. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadRig } from '../../../src/files/load.js'
import { isFrames } from '../../../src/files/rig.js'
import { toCounts, toRadians } from '../../../src/wire/cia402/scale.js'
import { change } from '../../setup/runs.js'
import { watchSchemas } from './watch-schemas.js'

const TEXT = readFileSync(new URL('small-frames-rig.yaml', import.meta.url), 'utf8')
const DEG = Math.PI / 180

const wiresOf = (text: string) =>
  loadRig(text, 'small-frames-rig.yaml', watchSchemas)
    .joints.filter(isFrames)
    .map((j) => j.wire)

describe('the number of a position', () => {
  // Position = sign x (scale x number + offset - zero).
  it.each([
    ['as it stands', (t: string) => t, [3600, 0], [-1, 1]],
    [
      'with an offset',
      (t: string) => t.replaceAll('scale: "0.002 deg"', 'scale: "0.002 deg", offset: "-10 deg"'),
      [8600, 5000],
      [-1, 1],
    ],
    [
      'with a scale below zero',
      (t: string) => t.replaceAll('scale: "0.002 deg"', 'scale: "-0.002 deg"'),
      [-3600, 0],
      [1, -1],
    ],
  ] as const)('%s', (_, edit, zeros, below) => {
    const wires = wiresOf(edit(TEXT))
    wires.forEach((wire, j) => {
      for (const scale of [wire, wire.setpoint]) {
        expect(toRadians(scale, zeros[j]!)).toBeCloseTo(0, 9)
        // Where the joint turns 2 deg backwards, a thousand steps away.
        expect(toRadians(scale, zeros[j]! + 1000 * below[j]!)).toBeCloseTo(-2 * DEG, 9)
        expect(toCounts(scale, -2 * DEG)).toBe(zeros[j]! + 1000 * below[j]!)
      }
    })
  })

  it('of setpoint and feedback may have scales of their own', () => {
    const [wire] = wiresOf(
      change(TEXT, /(byte: 0, length: 24, signed: true, scale: )"0.002 deg"/, '$1"0.01 deg"'),
    )
    expect(toCounts(wire!.setpoint, 10 * DEG)).toBe(1720)
    expect(toCounts(wire!, 10 * DEG)).toBe(8600)
  })
})
