/** What the watch of setpoints says of what it saw: words for each of its findings. */
import type { Finding } from '../files/event.js'
import type { ShownUnit } from '../units.js'
import type { CourseQuantity } from './setpoint-course.js'

type Words = Pick<Finding, 'quantity' | 'unit' | 'says' | 'why' | 'look'>

const words = (quantity: string, unit: ShownUnit, says: string, why: string, look: string): Words => ({
  quantity,
  unit,
  says,
  why,
  look,
})

/** Of what goes beyond the joint's limits from one period to the next. */
export const COURSE: Readonly<Record<CourseQuantity, Words>> = {
  position: words(
    'setpoint position',
    'rad',
    'A setpoint lies outside the range of the joint.',
    'The drive goes where it is told, into the hard stop or the cable.',
    'Look at the path of the driver there, then at zero, sign and unit of what it sends.',
  ),
  speed: words(
    'setpoint speed',
    'rad/s',
    'The setpoint jumped: from one period to the next it went farther than the speed limit lets the joint go.',
    'A drive follows a jump with all the torque it has, and the blade strikes.',
    'Look at the setpoints just before: an angle that wraps, a path that changes its branch, a value that was left out.',
  ),
  acceleration: words(
    'setpoint acceleration',
    'rad/s2',
    'The setpoint jumped: its speed changed in one period by more than the acceleration limit permits.',
    'A drive follows a jump with all the torque it has: gears and mount take the blow.',
    'Look at the setpoints just before: a command that is not ramped, a path with a corner, a value that was left out.',
  ),
  'change of acceleration': words(
    'change of setpoint acceleration',
    'rad/s2',
    'The acceleration of the setpoint jumped: it changed in one period by more than it may in the time that it has to build up.',
    'A jerk shakes arm, mount and craft, though every limit of speed and acceleration is kept.',
    'Look for steps in what the driver ramps, for noise and coarse steps in what it calculates, and for a corner in the path.',
  ),
}

export const NO_NUMBER = words(
  'setpoint is no finite number',
  'rad',
  'The driver gave a setpoint that is no finite number.',
  'What a drive would make of it nobody knows.',
  'Look for a division by zero, a root of a negative number, or a place that cannot be reached.',
)

export const SILENT = words(
  'setpoints ceased',
  's',
  'No setpoint came for this joint, while the arms were being led.',
  'A drive without setpoints holds the last one, or stops when its own time-out is over: the blade stands in the water.',
  'Look whether the driver still runs, then at the bus that it sends on.',
)

export const RESTING = words(
  'way asked for while setpoints stood',
  'm',
  'The setpoints of this arm stood still while the command asked for motion.',
  'A blade that stands while the other pulls turns the craft.',
  'Look whether the driver heard the command, and what it waits for.',
)

export const IDLE = words(
  'way asked for while one setpoint stood',
  'm',
  'The setpoint of this joint stood still through a whole stroke, while the others of its arm moved.',
  'Each joint of this arm is needed for the stroke: without it the blade takes another way, or is turned otherwise.',
  'Look whether the driver sends this joint at all, under its own name and in its own place, and where its value comes from.',
)

export const RAMP = words(
  'blade speed asked for on the ramp',
  'm/s',
  "The arm set off from its park place faster than the rig's ramp lets it.",
  'An abrupt start jerks at mount and craft, and whoever sits in it has no time to hold on.',
  "Look whether the driver keeps 'driver.acceleration' and 'driver.jerk' of the rig, and at its filter of commands.",
)

export const REPEATED = words(
  'setpoints repeated',
  'share',
  'In the midst of motion the same setpoint came again, over and over.',
  'A joint that is led in stairs shakes, and is behind by a period or more.',
  "Look at the rate of the driver's own loop beside the control rate, and whether it sends old values.",
)

export const UNEVEN = words(
  'setpoints off their beat',
  'share',
  'Setpoints were left out, came twice in a period, or came off their beat.',
  'A drive interpolates over one period: what comes irregularly is carried out in jerks.',
  "Look at the timing of whoever sends them, at the load of its machine, and at the bus's load.",
)

export const STEP = words(
  'setpoint away from the joint at enabling',
  'rad',
  'When its drive began to follow, the setpoint (607Ah, or what stands for it) was not where the joint stood (6064h).',
  'The joint leaps to the setpoint, and hits whoever still stands beside the arm.',
  'Look whether setpoints are loaded with the measured position before enabling, and at sign, scale and zero of both.',
)

export const NO_SETPOINT = words(
  'setpoint at enabling',
  'none',
  'The drive began to follow before anybody had sent it a setpoint.',
  'It goes to whatever target it still has, from an earlier run perhaps.',
  'Look at the order of the start-up: the measured position is loaded as setpoint before the drive is enabled.',
)
