/**
 * The hull of a rig with a sea kayak's dimensions, towed, against what a kayaking club measured of one (project check values 6): 3.9 N
 * at 3 kn, 28 N at 6 kn. A band for the order of size and no more: nobody says which kayak it was, what it carried and how it was
 * towed, and at 3 kn the club's figure is about half of the friction of a smooth plank with a sea kayak's wetted area.
 */
import { describe, expect, it } from 'vitest'
import { loadRig } from '../../src/files/load.js'
import type { Rig } from '../../src/files/rig.js'
import { waterOf } from '../../src/motion/water/properties.js'
import { craftMotionOf } from '../../src/motion/water/rig-craft.js'
import { change, DEMO_RIG } from '../setup/runs.js'

/** m/s: a nautical mile an hour (1852 m: International Hydrographic Conference, 1929). */
const KNOT = 1852 / 3600
const CLUB = [
  { knots: 3, force: 3.9 },
  { knots: 6, force: 28 },
]
/** How many times the club's figure, or how little of it, is still of its order. */
const BAND = 2.5

const [LENGTH, BEAM, DRAUGHT, MASS] = [4.9, 0.55, 0.11, 105]
/**
 * m2: S = 1.7 L T + V / T, for displacement hulls. Source: M. E. Denny, B. Mumford, as in any textbook of naval architecture (from memory).
 */
const WETTED = 1.7 * LENGTH * DRAUGHT + MASS / 999.1 / DRAUGHT

/** The demo rig's text with a kayak of these dimensions instead of the skiff. @param resistance as `hull` states it */
function kayak(resistance: string): Rig {
  const hull = `hull: { length: "${LENGTH} m", beam: "${BEAM} m", draught: "${DRAUGHT} m", ${resistance} }\n\nmount:`
  const narrow = change(DEMO_RIG, /\nhull:[\s\S]*?\nmount:/, `\n${hull}`)
  const long = change(narrow, 'length: "4 m"', 'length: "5.2 m"')
  return loadRig(change(long, 'mass: "180 kg"', `mass: "${MASS} kg"`), 'rig.yaml', {})
}

/** N, by halving: the pull with which the craft neither gains nor loses speed. */
function towed({ craft, hull, water }: Rig, speed: number): number {
  const motion = craftMotionOf(craft, hull!, waterOf(water!), 1e-3)
  let [low, high] = [0, 1000]
  for (let k = 0; k < 50; k++) {
    const pull = (low + high) / 2
    motion.state.fill(0)
    motion.state[3] = speed
    motion.pull(Float64Array.of(pull, 0, 0, 0, 0, 0), 0, 0)
    motion.step()
    if (motion.state[3]! > speed) high = pull
    else low = pull
  }
  return (low + high) / 2
}

describe('a sea kayak by its dimensions', () => {
  const rig = kayak(`wetted: { area: "${WETTED.toFixed(3)} m2", form-factor: 0.1 }`)

  it.each(CLUB)('at $knots kn takes some $force N: band, within a factor of 2.5', ({ knots, force }) => {
    const ours = towed(rig, knots * KNOT)
    expect(ours / force).toBeGreaterThan(1 / BAND)
    expect(ours / force).toBeLessThan(BAND)
  })

  it('takes more by twice the speed: between its square and its cube, as the club found', () => {
    const rise = towed(rig, 6 * KNOT) / towed(rig, 3 * KNOT)
    // Friction alone rises by a little less than the square; what the club has on top is waves, which the model leaves out.
    expect(rise).toBeGreaterThan(2 ** 1.75)
    expect(rise).toBeLessThan(CLUB[1]!.force / CLUB[0]!.force)
  })
})

it('a sea kayak by the towing test itself takes what was measured', () => {
  const rows = CLUB.map(({ knots, force }) => `{ speed: "${knots * KNOT} m/s", force: "${force} N" }`)
  const rig = kayak(`drag: [${rows.join(', ')}]`)
  for (const { knots, force } of CLUB) expect(towed(rig, knots * KNOT)).toBeCloseTo(force, 6)
})
