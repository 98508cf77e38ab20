/**
 * How a rig file is written. Each field's description goes into the published JSON Schema. Checks that need one
 * section only stand here; checks that look across sections stand in rig-references.ts.
 */
import { z } from 'zod'
import { armForm, writtenArmForm } from './arm-schema.js'
import { batteryForm } from './battery-schema.js'
import { BUS_ADDRESS_FORMS, type BusAddress, parseBusAddress } from './bus-address.js'
import { clearanceForm } from './clearance-schema.js'
import { driverForm } from './driver-schema.js'
import { choice, flag, list, name, number, optionalSection, section, sentence, whole } from './fields.js'
import { frameMapForm } from './frame-map-schema.js'
import { mountForm } from './mount-schema.js'
import { quantity } from './quantity.js'
import { reportsForm } from './reports-schema.js'
import { PLANTS } from './rig.js'
import { hullForm, waterForm } from './water-schema.js'

const BIT_RATES = [10e3, 20e3, 50e3, 100e3, 125e3, 250e3, 500e3, 800e3, 1e6]

const craftForm = section('The boat', {
  length: quantity('length', 'over all', { min: '1 m', max: '30 m' }),
  mass: quantity('mass', 'with arms and load', { min: '5 kg', max: '20000 kg' }),
  track: quantity('length', 'between the lines on which the port and starboard blades run', {
    min: '0.2 m',
    max: '10 m',
  }),
  waterline: quantity('length', 'how far the water lies below the origin of the craft frame', {
    above: '0 m',
    max: '5 m',
  }),
})

/** The period must be one that 60C2h can say: 1 to 255 times a power of ten of a second (IEC 61800-7-201). */
const rate = quantity('frequency', 'control cycles: setpoints, SYNC and feedback', {
  min: '10 Hz',
  max: '1 kHz',
}).refine(
  (hz) => [1e3, 1e4, 1e5, 1e6].some((scale) => isWhole(scale / hz) && Math.round(scale / hz) <= 255),
  {
    error:
      'a rate whose period is 1 to 255 times 1 ms, 0.1 ms or 10 us, such as "100 Hz", "200 Hz", "250 Hz" or "500 Hz"',
  },
)

export const controlForm = optionalSection('The control loop', { rate: rate.prefault('200 Hz') })

/**
 * COB-IDs that CiA 301 leaves to process data: not NMT, SYNC, emergency, SDO, heartbeat, nor its restricted CAN-IDs.
 */
const LOWEST_COB_ID = 0x181
const HIGHEST_COB_ID = 0x57f

const cobIdMessage = 'an identifier from "0x181" to "0x57f", as a string in hexadecimal digits'
const cobId = z
  .string({ error: cobIdMessage })
  .meta({
    description:
      'COB-ID of the controlword that all drives of this bus share; left out: each drive has its own',
    pattern: '^0x[0-9a-fA-F]{3}$',
    examples: ['0x181'],
  })
  .transform((text, context): number => {
    const id = /^0x[0-9a-fA-F]{3}$/.test(text) ? Number.parseInt(text, 16) : Number.NaN
    if (id >= LOWEST_COB_ID && id <= HIGHEST_COB_ID) return id
    context.issues.push({ code: 'custom', message: cobIdMessage, input: text })
    return z.NEVER
  })

const busAddress = z
  .string({ error: BUS_ADDRESS_FORMS })
  .meta({
    description: 'where the bus is: in memory with simulated arms, or behind an interface or adapter',
    examples: ['mock', 'socketcan:can0', 'slcan:/dev/ttyACM0', 'slcan:tcp:127.0.0.1:7001'],
  })
  .transform((text, context): BusAddress => {
    const address = parseBusAddress(text)
    if (address) return address
    context.issues.push({ code: 'custom', message: BUS_ADDRESS_FORMS, input: text })
    return z.NEVER
  })

const busForm = section('One CAN bus', {
  name: name('by which joints name it'),
  address: busAddress,
  bitrate: quantity('bit rate', 'on the wire')
    .refine((rate) => BIT_RATES.some((r) => Math.abs(r - rate) < 1e-3), {
      error: `one of ${BIT_RATES.map((r) => `"${r / 1e3} kbit/s"`).join(', ')}`,
    })
    .prefault('1 Mbit/s'),
  'serial-rate': quantity('bit rate', 'of the serial port of an slcan adapter', {
    min: '9.6 kbit/s',
    max: '12 Mbit/s',
  }).prefault('115.2 kbit/s'),
  controlword: cobId.optional(),
  queue: whole('frames that may wait to be sent; one more is refused', 4, 1024).prefault(32),
  reports: reportsForm.optional(),
})

const strokeForm = optionalSection('The closed path of a blade', {
  sides: choice('whether each side has its own cadence', ['free', 'together', 'alternating']).prefault(
    'free',
  ),
  middle: quantity('length', 'x of the middle of the drive', { min: '-15 m', max: '15 m' }).prefault('0 m'),
  length: quantity('length', 'from catch to exit', { min: '0.05 m', max: '3 m' }).prefault('0.5 m'),
  even: quantity('share', 'middle part of the drive with the blade at side speed', {
    min: '10 %',
    max: '95 %',
  }).prefault('70 %'),
  immersion: quantity('length', "depth of the blade's centre in the drive", {
    min: '1 cm',
    max: '2 m',
  }).prefault('0.11 m'),
  clearance: quantity('length', "height of the blade's lowest edge on the recovery", {
    min: '0 m',
    max: '1 m',
  }).prefault('0.05 m'),
  feather: quantity('angle', 'turn about the shaft on the recovery; 0 keeps the blade square', {
    min: '-90 deg',
    max: '90 deg',
  }).prefault('80 deg'),
  lean: quantity('angle', 'tilt of the shaft from the vertical, tip outboard', {
    min: '-80 deg',
    max: '80 deg',
  }).prefault('10 deg'),
  recovery: quantity('frequency', 'least phase rate on the recovery', {
    min: '0.01 Hz',
    max: '5 Hz',
  }).prefault('0.25 Hz'),
  fastest: quantity(
    'speed',
    'greatest side speed, of which scenarios may state shares; see drystroke check',
    {
      above: '0 m/s',
      max: '3 m/s',
    },
  ).optional(),
  dwell: quantity('time', 'side speed zero for this long parks the blade', {
    min: '0.1 s',
    max: '60 s',
  }).prefault('1 s'),
})

const motionForm = optionalSection('What holds for every motion, and the way to the first stroke', {
  'speed-cap': quantity('share', "of each joint's speed limit that holds for everything", {
    min: '1 %',
    max: '100 %',
  }).prefault('100 %'),
  // ISO 10218-1:2011, 5.6.2: reduced speed is at most 250 mm/s at the tool centre point.
  'tip-speed': quantity('speed', 'fastest end of a link or edge of a blade on the approach and in a jog', {
    min: '1 mm/s',
    max: '250 mm/s',
  }).prefault('250 mm/s'),
  via: list(
    z.record(z.string(), quantity('angle', 'of this joint', { min: '-3600 deg', max: '3600 deg' }), {
      error: 'a pose with one angle for each joint, such as port.elbow: "90 deg"',
    }),
    'poses that each approach goes through, in order, on its way to the park pose',
    0,
    32,
  ).prefault([]),
  'confirmed-for': quantity('long time', "after which a person's confirmation of this rig expires", {
    min: '1 h',
    max: '365 d',
  }).prefault('30 d'),
})

/** Times that drives keep as whole milliseconds in 16 bits: 1016h, 1017h, 6066h. */
const milliseconds = (about: string) => quantity('time', about, { min: '1 ms', max: '10 s', step: '1 ms' })

export const linkForm = section('How the drives are set up and fed', {
  'our-heartbeat': milliseconds('period of the heartbeat that the harness sends').prefault('20 ms'),
  'drive-heartbeat': milliseconds('period of the heartbeat of each drive').prefault('50 ms'),
  'heartbeat-timeout': milliseconds('silence from the harness after which a drive stops by itself').prefault(
    '100 ms',
  ),
  window: quantity('angle', 'following error window of the drives', {
    above: '0 deg',
    max: '180 deg',
  }).prefault('10 deg'),
  'window-timeout': milliseconds('how long a drive bears a following error outside the window').prefault(
    '100 ms',
  ),
  'quick-stop': quantity('angular acceleration', 'deceleration of a quick stop', {
    min: '1 deg/s2',
    max: '100000 deg/s2',
  }).prefault('1500 deg/s2'),
  'torque-share': quantity('share', "part of each joint's torque limit that the drive may use", {
    min: '1 %',
    max: '100 %',
  }).prefault('60 %'),
  'reply-within': quantity('time', 'longest time that a drive takes for an SDO reply', {
    min: '5 ms',
    max: '5 s',
  }).prefault('50 ms'),
  patience: quantity('time', 'longest time for each step of set-up', { min: '0.1 s', max: '60 s' }).prefault(
    '2 s',
  ),
  approach: quantity('share', 'part of the speed limits for the slow motion to the park pose', {
    min: '1 %',
    max: '100 %',
  }).prefault('15 %'),
  'stale-after': quantity('time', 'oldest feedback on which a setpoint may still be sent', {
    min: '1 ms',
    max: '1 s',
  }).prefault('20 ms'),
})
  .superRefine((link, context) => {
    // Two, so that a single heartbeat lost or late is no stop (common practice, no source).
    if (link['heartbeat-timeout'] >= 2 * link['our-heartbeat']) return
    const message = 'at least two periods of our-heartbeat, so that one lost heartbeat stops nothing'
    context.addIssue({ code: 'custom', path: ['heartbeat-timeout'], message })
  })
  .prefault({})

export const guardianForm = optionalSection(
  'The process that stops the arms of real buses when the bench process no longer can',
  {
    timeout: quantity(
      'time',
      'longest time without a finished tick, and longest time to obey a stop from another terminal',
      { min: '20 ms', max: '1 s' },
    ).prefault('100 ms'),
  },
)

const stopBoxForm = section('An emergency-stop box, a normally closed contact in a modem line', {
  device: z
    .string({ error: 'the device of a serial port, such as /dev/ttyUSB0' })
    .regex(/^(\/\S+|COM\d+)$/, { error: 'the device of a serial port, such as /dev/ttyUSB0' })
    .meta({ description: 'serial port that it is plugged into', examples: ['/dev/ttyUSB0'] }),
  line: choice('the input that the contact closes', ['cts', 'dsr', 'dcd']),
  settle: quantity('time', 'closed for so long before it counts as closed; opening counts at once', {
    min: '0 ms',
    max: '1 s',
  }).prefault('50 ms'),
  patience: quantity('time', 'without a reading for so long it counts as pressed', {
    min: '10 ms',
    max: '1 s',
  }).prefault('50 ms'),
})

const stopForm = optionalSection('The latched stop', {
  category: choice(
    'after IEC 60204-1; 2 keeps torque on and is refused for emergency sources',
    [0, 1],
  ).prefault(1),
  still: optionalSection('When a joint counts as still', {
    speed: quantity('angular speed', 'slower than this', { min: '0.01 deg/s', max: '10 deg/s' }).prefault(
      '0.6 deg/s',
    ),
    hold: quantity('time', 'for this long', { min: '10 ms', max: '5 s' }).prefault('100 ms'),
  }),
  timeout: quantity('time', 'category 1 disables voltage after this, still or not', {
    min: '10 ms',
    max: '30 s',
  }).prefault('1 s'),
  'sag-window': quantity('time', 'after still, in which sag is measured', {
    min: '0 s',
    max: '60 s',
  }).prefault('2 s'),
  sag: quantity('angle', 'most sag that passes', { min: '0 deg', max: '90 deg' }).prefault('1 deg'),
  prove: choice('on which arms the stop path is proven before the first motion of a run', [
    'always',
    'real arms',
  ]).prefault('real arms'),
  answer: quantity('time', 'within which each drive must obey the quick stop of that proof', {
    min: '10 ms',
    max: '1 s',
  }).prefault('100 ms'),
  brakes: flag('whether brakes hold the unpowered arms').prefault(true),
  overall: section(
    'Overall stopping time of the hard-wired stop: never that of a stop by bus or of a simulation',
    {
      time: quantity('time', "from the protective device's answer to the last part at rest", {
        min: '1 ms',
        max: '30 s',
      }),
      entered: sentence('who entered it, when, and how it was measured'),
    },
  ).optional(),
})

const realtimeForm = optionalSection('The loop of a run in real time; common practice, no source', {
  late: quantity('time', 'a tick that comes later than this after its deadline is late', {
    min: '50 us',
    max: '1 s',
  }).prefault('1 ms'),
  'most-late': whole(
    'late or missed ticks in a row that are borne; one more stops the run',
    0,
    1000,
  ).prefault(3),
  fifo: flag('ask the system for first-in first-out scheduling').prefault(true),
  processor: whole('the processor that the loop keeps to (Linux); left out: any', 0, 1023).optional(),
})

const simulatedJointForm = section('The true binding of one simulated joint', {
  'counts-per-turn': number('encoder counts a turn of the joint', 16, 2 ** 31),
  sign: choice('1: counts rise as the joint turns right-handed about its axis', [1, -1]),
  zero: quantity('count', 'at joint position zero', { min: '-2147483648 counts', max: '2147483647 counts' }),
  start: quantity('angle', 'true position at power-on', { min: '-3600 deg', max: '3600 deg' }),
})

const simulationForm = section("The simulated arms' own truth, apart from the wire bindings", {
  servo: optionalSection('The closed position loop', {
    frequency: quantity('frequency', 'undamped natural frequency', { min: '0.5 Hz', max: '200 Hz' }).prefault(
      '12 Hz',
    ),
    damping: number('damping ratio', 0.05, 5).prefault(0.8),
    feedforward: quantity('share', "of the setpoint's speed", { min: '0 %', max: '100 %' }).prefault('50 %'),
  }),
  feedback: optionalSection('How positions come back', {
    delay: quantity('time', 'from SYNC to the frame', { min: '0 s', max: '100 ms' }).prefault('100 us'),
    jitter: quantity('time', 'uniform, added to the delay', { min: '0 s', max: '100 ms' }).prefault('50 us'),
    noise: quantity('count', 'standard deviation of the encoder', {
      min: '0 counts',
      max: '1000 counts',
    }).prefault('1 counts'),
  }),
  supply: optionalSection('What the simulated drives draw their power from', {
    voltage: quantity('voltage', "at no load; left out: the battery's, or 48 V without one", {
      above: '0 V',
      max: '1000 V',
    }).optional(),
    resistance: quantity('resistance', 'of source and wiring', { min: '0 ohm', max: '100 ohm' }).prefault(
      '50 mohm',
    ),
  }),
  ambient: quantity('temperature', 'of the air around the drives', {
    min: '-40 degC',
    max: '60 degC',
  }).prefault('20 degC'),
  brakes: flag('whether unpowered joints are held').prefault(true),
  sag: quantity('angular acceleration', 'of an unbraked, unpowered joint', {
    min: '0 rad/s2',
    max: '50 rad/s2',
  }).prefault('1 rad/s2'),
  plant: choice(
    'what the arms stand on: dry land, or the craft in its water; a scenario may say otherwise',
    PLANTS,
  ).prefault('dry'),
  watchdog: flag('whether the drives stop by themselves when the harness falls silent').prefault(true),
  joints: z
    .record(z.string(), simulatedJointForm, {
      error: 'a section with one entry for each joint, such as port.elbow',
    })
    .meta({ description: 'One entry for each joint, named arm.joint' }),
})

/**
 * A rig whose arms are all written by hand.
 * @param watchSchemas settings of each watch, by the watch's name; given by the watches, which this level does not know
 */
export function rigForm(watchSchemas: Record<string, z.ZodType>) {
  return rigOf(armForm, watchSchemas)
}

/** A rig as its file may be: an arm may name a URDF file. */
export function writtenRigForm(watchSchemas: Record<string, z.ZodType>) {
  return rigOf(writtenArmForm, watchSchemas)
}

function rigOf<A extends z.ZodType>(arm: A, watchSchemas: Record<string, z.ZodType>) {
  return section('A rig: one bench set-up', {
    name: name('of the rig'),
    about: sentence('what the rig is, for reports'),
    craft: craftForm,
    control: controlForm,
    buses: list(busForm, 'CAN buses', 1, 16),
    'frame-maps': list(frameMapForm, 'of arms that speak frames of their own', 0, 16).prefault([]),
    arms: list(arm, 'Arms', 1, 64),
    stroke: strokeForm,
    driver: driverForm,
    motion: motionForm,
    clearance: clearanceForm.optional(),
    water: waterForm.optional(),
    hull: hullForm.optional(),
    mount: mountForm.optional(),
    battery: batteryForm.optional(),
    link: linkForm,
    stop: stopForm,
    'stop-box': stopBoxForm.optional(),
    guardian: guardianForm,
    realtime: realtimeForm,
    watch: optionalSection('Settings of the watches; each has defaults', watchSections(watchSchemas)),
    simulation: simulationForm,
  })
}

export type RigForm = z.output<ReturnType<typeof rigForm>>

/** Each watch's section may be left out, and refuses keys that it does not know. */
function watchSections(watchSchemas: Record<string, z.ZodType>): Record<string, z.ZodType> {
  const strict = (schema: z.ZodType) =>
    schema instanceof z.ZodObject ? z.strictObject(schema.shape) : schema
  return Object.fromEntries(
    Object.entries(watchSchemas).map(([key, schema]) => [key, strict(schema).prefault({})]),
  )
}

function isWhole(n: number): boolean {
  return Math.abs(n - Math.round(n)) < 1e-6
}
