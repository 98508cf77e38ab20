/** What to look at first, each hint tied to a symptom in the picture. The causes are common practice, no source. */
import type { Rig } from '../files/rig.js'
import { showQuantity } from '../units.js'
import { type BusPicture, isThere, type JointPicture, type Picture } from './picture.js'

export interface Hint {
  /** Bus or joint. */
  readonly place: string
  /** What was seen. */
  readonly seen: string
  /** Usual causes, the likeliest first. */
  readonly look: string
}

/** @param rig that was surveyed */
export function hints(picture: Picture, rig: Rig): Hint[] {
  return [
    ...picture.buses.flatMap((bus, b) => [
      ...onBus(bus),
      ...missing(
        bus,
        picture.joints.filter((j) => j.bus === b),
      ),
    ]),
    ...picture.joints.flatMap((joint, j) => onJoint(joint, rig, j)),
  ]
}

function onBus(bus: BusPicture): Hint[] {
  const place = bus.name
  const found: Hint[] = []
  const say = (seen: string, look: string): number => found.push({ place, seen, look })
  for (const { trouble, count } of bus.troubles) {
    const times = `${trouble}, ${count} ${count === 1 ? 'time' : 'times'}`
    if (trouble === 'no acknowledgement')
      say(times, 'nobody else is on the bus: power of the arms, cable, bit rate, and 120 ohm at both ends')
    else if (trouble === 'transmit overflow')
      say(times, 'frames were handed over faster than they left: bit rate, control rate, length of the queue')
    else if (trouble === 'receive overflow')
      say(times, "frames were lost on the way in: the machine's load, the adapter's buffer")
    else if (trouble === 'bus error' || trouble === 'garbled')
      say(times, 'wrong bit rate, missing termination, a bad plug, or a line beside the motor cables')
    else say(times, 'cable, plugs, termination and supply of the adapter')
  }
  for (const { why, count } of bus.refusals)
    if (why === 'queue full')
      say(
        `queue full: ${count} of our own frames were not taken`,
        'nobody acknowledges (alone on the bus, bit rate, termination), or the queue of the interface is short: ip link shows its qlen',
      )
  if (bus.restart === 0)
    say(
      'restart-ms is off: a controller that has gone bus-off stays off',
      'ip link set its interface down, then: type can restart-ms 100; nothing moves by itself when it returns',
    )
  if (bus.state === 'bus-off')
    say(
      'the controller has gone bus-off',
      'bit rate and wiring first; it comes back only where restart-ms of the interface is set, or by taking it down and up',
    )
  else if (bus.state === 'passive' || bus.state === 'warning')
    say(
      `the controller is error ${bus.state}`,
      'wrong bit rate, missing termination, or nobody there to acknowledge',
    )
  else if (bus.state !== 'active')
    say(`the bus is ${bus.state}`, 'plug and supply of the adapter; set the interface up')
  for (const { id } of bus.masters)
    say(
      `somebody else sends ${hex(id)}, which only a harness sends`,
      'another controller, a tool of the drives or a second bench: take it off before a run',
    )
  if (bus.batches !== null)
    say(
      `frames come in batches, every ${showQuantity(bus.batches, 's')}`,
      'an adapter on USB that waits before it hands over (16 ms is usual): set its latency timer to 1 ms',
    )
  for (const { node } of bus.strangers)
    say(
      `node ${node} speaks and is no joint of the rig`,
      'node ids of the rig file, or a device that belongs elsewhere',
    )
  return found
}

/** One hint for a bus whose arms are all quiet, else one for each joint that is. */
function missing(bus: BusPicture, joints: readonly JointPicture[]): Hint[] {
  const gone = joints.filter((j) => !isThere(j))
  if (gone.length === 0) return []
  const asked = gone.some((j) => j.answer !== null)
  if (gone.length === joints.length && bus.frames === 0)
    return [
      {
        place: bus.name,
        seen: 'no frame at all came from this bus',
        look: asked
          ? 'power of the arms, the plug, bit rate, termination; is this the right interface?'
          : 'power of the arms, the plug, bit rate, termination; drives that nobody has set up say nothing by themselves: ask them with --ask',
      },
    ]
  return gone.map((j) => ({
    place: j.name,
    seen: asked ? 'says nothing and does not answer' : 'says nothing',
    look: asked
      ? 'its power and plug, its node id in the rig file, or NMT stopped'
      : 'drives that nobody has set up may be quiet: ask them with --ask; else power, plug and node id',
  }))
}

function onJoint(joint: JointPicture, rig: Rig, j: number): Hint[] {
  const place = joint.name
  const found: Hint[] = []
  const say = (seen: string, look: string): number => found.push({ place, seen, look })
  if (joint.inside === false)
    say(
      `stands at ${showQuantity(joint.position!, 'rad')}, outside its limits of ${showQuantity(rig.joints[j]!.limits.lower, 'rad')} to ${showQuantity(rig.joints[j]!.limits.upper, 'rad')}`,
      'zero, sign and counts a turn in the rig file; or move it by hand with the power off',
    )
  if (joint.state === 'fault' || joint.state === 'fault reaction active')
    say('its drive is in fault', "the drive's own diagnosis; the last emergency message below tells the code")
  if (joint.emergency !== null)
    say(
      `sent the emergency code ${hex(joint.emergency)}`,
      "the code's meaning in CiA 301 or the drive's manual; 8130h is a heartbeat that was missed",
    )
  if (joint.state === 'operation enabled')
    say('gives torque: it is enabled', 'who enabled it? stop it with drystroke stop before anything else')
  if (joint.booted) say('has just booted', 'was it switched on now? if not, look at its supply')
  return found
}

function hex(n: number): string {
  return `${n.toString(16).toUpperCase()}h`
}
