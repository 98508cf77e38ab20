// A driver to copy: it paddles the demo rig's arms. Plain JavaScript, no packages.
//
// One JSON object comes on each line of standard input, one goes out on each line of standard output. Words for people go to
// standard error. What the arms look like (lengths, side, track) this file states for itself, as a driver does.
import { createInterface } from 'node:readline'

const TRACK = 2 // m, between the two blade lines
const WATER = -0.3 // m, z of the surface in the craft frame: x forward, y to port, z up
const LENGTH = 0.6 // m, of the stroke
const CENTRE = 0.03 // m, of the blade's way up and down, above the water
const HEIGHT = 0.14 // m, half of that way
const LEAN = (10 / 180) * Math.PI // tilt of the shaft, tip outboard
const [UPPER, FOREARM, PADDLE] = [0.35, 0.35, 0.6] // m: shoulder to elbow, elbow to wrist, wrist to blade
const RAMP = 0.4 // m/s2, of a side's speed
const SMOOTH = 0.15 // s, twice
const DWELL = 1 // s at rest, then the blade is lifted
const LIFT = 2.5 // s
const TOP = 1.5 * Math.PI // of the stroke's angle: the blade is in the middle of its way back, farthest above the water

const SIDES = [
  { name: 'port', sign: 1, base: [0, 0.5], turn: Math.PI / 2 },
  { name: 'starboard', sign: -1, base: [0, -0.5], turn: -Math.PI / 2 },
]

/** Joints of an arm with its blade at x, z: swing, shoulder, elbow, then a wrist whose three axes meet. */
function joints({ sign, base, turn }, x, z) {
  // From the shoulder, in the craft frame: the shaft's direction to the tip, and where the wrist is.
  const shaft = [0, sign * Math.sin(LEAN), -Math.cos(LEAN)]
  const wrist = [
    x - PADDLE * shaft[0] - base[0],
    (sign * TRACK) / 2 - PADDLE * shaft[1] - base[1],
    z - PADDLE * shaft[2] - 0.12,
  ]
  const yaw = Math.atan2(wrist[1], wrist[0])
  const out = Math.hypot(wrist[0], wrist[1])
  const bent = (out ** 2 + wrist[2] ** 2 - UPPER ** 2 - FOREARM ** 2) / (2 * UPPER * FOREARM)
  if (Math.abs(bent) > 1) throw new Error(`the blade cannot be at x ${x}, z ${z}`)
  const elbow = Math.acos(bent)
  const shoulder =
    Math.atan2(out, wrist[2]) - Math.atan2(FOREARM * Math.sin(elbow), UPPER + FOREARM * Math.cos(elbow))
  // The face that pushes looks aft: it is the blade's y axis to port, and against it to starboard.
  const y = [-sign, 0, 0]
  const [cx, sx] = [Math.cos(yaw), Math.sin(yaw)]
  const [cb, sb] = [Math.cos(shoulder + elbow), Math.sin(shoulder + elbow)]
  // Into the frame of the forearm: about the vertical by -yaw, then about y by -(shoulder + elbow).
  const inForearm = ([a, b, c]) => {
    const [ahead, across] = [cx * a + sx * b, cx * b - sx * a]
    return [cb * ahead - sb * c, across, sb * ahead + cb * c]
  }
  const s = inForearm(shaft)
  const yf = inForearm(y)
  const xz = yf[0] * s[1] - yf[1] * s[0] // z of the blade's x axis, y cross shaft
  const roll = Math.atan2(s[1], s[0])
  const pitch = Math.acos(Math.max(-1, Math.min(1, s[2])))
  const feather = Math.atan2(yf[2], -xz)
  return [wrapped(yaw - turn), shoulder, elbow, roll, pitch, feather]
}

const wrapped = (angle) => Math.atan2(Math.sin(angle), Math.cos(angle))
const eased = (p) => p ** 3 * (10 + p * (6 * p - 15))

/** One side: its speed, its place in the stroke, how far its blade is lifted. */
class Side {
  constructor(side) {
    this.side = side
    this.begin()
  }

  begin() {
    Object.assign(this, { ramped: 0, half: 0, speed: 0, angle: TOP, lifted: 1, parked: true, still: 0 })
  }

  /** @param asked m/s @returns rad */
  step(asked, dt) {
    this.still = asked === 0 && Math.abs(this.speed) < 0.005 ? this.still + dt : 0
    const goesUp = asked === 0 && (this.still > DWELL || this.lifted === 1)
    this.lifted = Math.max(0, Math.min(1, this.lifted + (goesUp ? dt : -dt) / LIFT))
    // Lifted whole it is where the top of the stroke is: from there it goes on without a way down.
    if (this.lifted === 1 || this.parked) Object.assign(this, { angle: TOP, lifted: goesUp ? 1 : 0 })
    this.parked = this.lifted === 1
    // In the water first, then on.
    const due = this.lifted > 0 ? 0 : asked
    this.ramped += Math.max(-RAMP * dt, Math.min(RAMP * dt, due - this.ramped))
    this.half += ((this.ramped - this.half) * dt) / SMOOTH
    this.speed += ((this.half - this.speed) * dt) / SMOOTH
    // x = LENGTH/2 cos(angle): in the drive the blade goes aft as fast as the side goes ahead. Near the ends, where the
    // angle would have to leap, it goes a little slower; the way back is not endless when the speed is small.
    const sine = Math.sin(this.angle)
    const drive = (1.13 * this.speed) / (LENGTH / 2) / Math.hypot(sine, 0.5)
    const back = 1.5 * Math.max(0, -sine) ** 2 * Math.tanh(this.speed / 0.05)
    this.angle += (drive + back) * dt
    // First out of the water, then to the middle.
    const up = eased(Math.min(1, 2 * this.lifted))
    const across = eased(Math.max(0, 2 * this.lifted - 1))
    const x = (1 - across) * (LENGTH / 2) * Math.cos(this.angle)
    const z = WATER + CENTRE - HEIGHT * ((1 - up) * Math.sin(this.angle) - up)
    return joints(this.side, x, z)
  }
}

const sides = SIDES.map((side) => new Side(side))
let period = 0.005
const say = (message) => process.stdout.write(`${JSON.stringify(message)}\n`)

for await (const line of createInterface({ input: process.stdin })) {
  const told = JSON.parse(line)
  if (told.hello) {
    period = told.every
    console.error(`paddling ${told.rig}, ${told.joints.length} joints, every ${1000 * period} ms`)
    // Where it stands when nothing is asked of it.
    say({ ready: 1, park: sides.flatMap((side) => side.step(0, 0)) })
  } else if (told.begin) {
    for (const side of sides) side.begin()
  } else if (told.bye) break
  else {
    // No surge and no yaw: commands have ceased, and the craft has to come to rest.
    const { n, surge = 0, yaw = 0 } = told
    const setpoints = sides.flatMap((side) => side.step(surge - (side.side.sign * yaw * TRACK) / 2, period))
    say({ n, setpoints })
  }
}
