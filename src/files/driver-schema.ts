/**
 * How the driver stands in a rig file: the built-in one, or the team's own behind one of four links. The settings of the
 * reference driver stand in each kind: they are what a driver under test is held against.
 */
import { z } from 'zod'
import { COMMAND_WORDS, type DriverSettings, RIG_WORDS, type Template } from './driver.js'
import { choice, flag, list, number, section, whole } from './fields.js'
import { didYouMean, nearest, oneOf } from './nearest.js'
import { quantity } from './quantity.js'

const heldAgainst = {
  slip: quantity('share', 'side speeds are raised by this', { min: '0 %', max: '300 %' }).prefault('0 %'),
  acceleration: quantity('acceleration', 'greatest, of a side speed', {
    above: '0 m/s2',
    max: '20 m/s2',
  }).prefault('0.4 m/s2'),
  jerk: quantity('jerk', 'greatest, of a side speed', { above: '0 m/s3', max: '500 m/s3' }).prefault(
    '2 m/s3',
  ),
  singularity: number(
    'least singularity measure that a pose of the reference driver may have',
    0,
    1,
  ).prefault(0.02),
}

const everyLink = {
  ...heldAgainst,
  'owns-bus': flag(
    'true: it drives the buses itself and only hears commands; false: it answers with setpoints',
  ).prefault(false),
  every: quantity('time', 'between two commands; left out: the control period', {
    min: '1 ms',
    max: '1 s',
  }).optional(),
  // How long a program takes to start is common experience (an interpreter with libraries: seconds), no source.
  handshake: quantity(
    'time',
    'until it is ready; in virtual time also until each answer, by the wall clock',
    {
      min: '100 ms',
      max: '45 s',
    },
  ).prefault('10 s'),
  answer: quantity('time', 'longest that a command may wait for its answer', {
    min: '2 ms',
    max: '10 s',
  }).prefault('50 ms'),
  rest: quantity(
    'time',
    "from the last command to the last change of a setpoint; left out: worked out from the rig's ramps and dwell",
    { min: '10 ms', max: '60 s' },
  ).optional(),
  parked: quantity('angle', 'how near to its park pose each setpoint is when the blades are parked', {
    above: '0 deg',
    max: '10 deg',
  }).prefault('0.5 deg'),
}

const text = (about: string, expected: string) =>
  z.string({ error: expected }).min(1, { error: expected }).max(4096, { error: expected }).meta({
    description: about,
  })

const processForm = section('A program of the team, started for each run: JSON lines', {
  ...everyLink,
  kind: z.literal('process'),
  run: list(
    text('a program, or one of its arguments', 'a program or an argument, as text'),
    'the program and its arguments; it runs in the folder of this file',
    1,
    100,
  ),
})

const hostPort = 'a host and a port, such as "127.0.0.1:7010" or "[::1]:7010"'
const udpForm = section('A program of the team that is reached by JSON datagrams', {
  ...everyLink,
  kind: z.literal('udp'),
  address: z
    .string({ error: hostPort })
    .meta({ description: 'where it listens', examples: ['127.0.0.1:7010'] })
    .transform((given, context) => {
      const match = /^(?:\[([0-9a-fA-F:.]+)\]|([^\s:[\]]+)):(\d{1,5})$/.exec(given)
      const port = Number(match?.[3])
      if (match && port >= 1 && port <= 65535) return { host: (match[1] ?? match[2])!, port }
      context.issues.push({ code: 'custom', message: hostPort, input: given })
      return z.NEVER
    }),
  'own-port': whole('port of this machine that its answers come to; left out: any', 1, 65535).optional(),
})

const devicePath = 'the device of a serial port, such as /dev/ttyUSB0'
const serialForm = section('A program of the team behind a serial port: JSON lines', {
  ...everyLink,
  kind: z.literal('serial'),
  device: z
    .string({ error: devicePath })
    .regex(/^(\/\S+|COM\d+)$/, { error: devicePath })
    .meta({ description: 'the serial port', examples: ['/dev/ttyUSB0'] }),
  rate: quantity('bit rate', 'of the serial port', { min: '9.6 kbit/s', max: '12 Mbit/s' }).prefault(
    '921.6 kbit/s',
  ),
})

interface TemplateFault {
  readonly path: readonly (string | number)[]
  readonly expected: string
}

/** Where a template stands for something that nobody knows, or holds what is no JSON; null: nowhere. */
function templateFault(value: unknown, words: readonly string[]): TemplateFault | null {
  if (typeof value === 'string') {
    if (!value.startsWith('$') || value.startsWith('$$') || words.includes(value)) return null
    const advice = didYouMean(nearest(value, words))
    return {
      path: [],
      expected: `${oneOf(words)}; $$ begins a text with one dollar sign${advice && `; ${advice}`}`,
    }
  }
  if (typeof value === 'number')
    return Number.isFinite(value) ? null : { path: [], expected: 'a finite number, as JSON has it' }
  if (value === null || typeof value !== 'object') return null
  for (const [key, inner] of Object.entries(value)) {
    const fault = templateFault(inner, words)
    const step = Array.isArray(value) ? Number(key) : key
    if (fault) return { ...fault, path: [step, ...fault.path] }
  }
  return null
}

function template(about: string, names: readonly string[]) {
  const words = names.map((name) => `$${name}`)
  const missing = { path: [], expected: `a JSON value in which ${words.join(', ')} stand for what is sent` }
  return z
    .unknown()
    .transform((value, context): Template => {
      const fault = value === undefined ? missing : templateFault(value, words)
      if (fault === null) return value as Template
      context.issues.push({ code: 'custom', message: fault.expected, path: [...fault.path], input: value })
      return z.NEVER
    })
    .meta({ description: about })
}

const pointerMessage = 'a JSON Pointer, such as "/arms/setpoints"'
const pointer = (about: string) =>
  z
    .string({ error: pointerMessage })
    .regex(/^(\/([^~/]|~[01])*)*$/, { error: pointerMessage })
    .meta({ description: about, examples: ['/arms/setpoints'] })

const everyWord = [...COMMAND_WORDS, ...RIG_WORDS]
const addressMessage = 'an address such as "ws://127.0.0.1:7011" or "wss://host/path"'

const websocketForm = section('A program that is reached by a WebSocket, with messages of its own form', {
  ...everyLink,
  kind: z.literal('websocket'),
  address: z
    .string({ error: addressMessage })
    .refine((given) => /^wss?:\/\/[^\s/]+/.test(given) && URL.canParse(given), { error: addressMessage })
    .meta({ description: 'where it listens', examples: ['ws://127.0.0.1:7011'] }),
  'after-connecting': list(template('a message', RIG_WORDS), 'messages sent once connected', 0, 100).prefault(
    [],
  ),
  command: template(
    'the message of a command: $surge in m/s, $yaw in rad/s, $time in s, $count from 1, $order to one that owns the buses stand under any keys',
    everyWord,
  ),
  'before-starting': list(
    template('a message', RIG_WORDS),
    'messages sent when the arms stand at its park pose: at first, and after each stop',
    0,
    100,
  ).prefault([]),
  'before-closing': list(
    template('a message', RIG_WORDS),
    'messages sent at the end of the run',
    0,
    100,
  ).prefault([]),
  ready: section('What a message says before the run may begin; left out: nothing is waited for', {
    at: pointer('where in the message'),
    is: text('the text there', 'a text'),
    park: pointer(
      "where in the message the pose (rad) stands in which the driver begins; left out: the reference driver's",
    ).optional(),
  }).optional(),
  setpoints: pointer(
    'where setpoints (rad) stand in its messages: a list in the order of the joints, or a section by their names',
  ).optional(),
  counter: pointer(
    'where the count of the command that they answer stands; left out: it does not come back',
  ).optional(),
}).superRefine((form, context) => {
  if (form['owns-bus'] === (form.setpoints === undefined)) return
  const message = form['owns-bus']
    ? 'no such key, because a driver that owns the bus answers with no setpoints'
    : 'a JSON Pointer to the setpoints in its messages, or owns-bus: true'
  context.addIssue({ code: 'custom', path: ['setpoints'], message })
})

export const driverForm = z
  .discriminatedUnion(
    'kind',
    [
      section('The built-in driver', {
        kind: choice('the built-in driver', ['reference']).optional(),
        ...heldAgainst,
      }),
      processForm,
      websocketForm,
      udpForm,
      serialForm,
    ],
    { error: 'a section with the key kind: reference, process, websocket, udp or serial' },
  )
  .meta({ description: 'What turns commands into joint setpoints' })
  .prefault({})

type DriverForm = z.output<typeof driverForm>

export function resolveDriver(form: DriverForm): DriverSettings {
  const { slip, acceleration, jerk, singularity } = form
  return { slip, acceleration, jerk, singularity, link: linkOf(form) }
}

function linkOf(form: DriverForm): DriverSettings['link'] {
  if (!('owns-bus' in form)) return null
  const { handshake, answer, parked } = form
  const shared = {
    ownsBus: form['owns-bus'],
    every: form.every ?? null,
    rest: form.rest ?? null,
    ...{ handshake, answer, parked },
  }
  switch (form.kind) {
    case 'process':
      return { kind: form.kind, ...shared, run: form.run as [string, ...string[]] }
    case 'udp':
      return { kind: form.kind, ...shared, ...form.address, ownPort: form['own-port'] ?? null }
    case 'serial':
      return { kind: form.kind, ...shared, device: form.device, rate: form.rate }
    case 'websocket':
      return {
        kind: form.kind,
        ...shared,
        address: form.address,
        afterConnecting: form['after-connecting'],
        command: form.command,
        beforeStarting: form['before-starting'],
        beforeClosing: form['before-closing'],
        ready: form.ready ? { ...form.ready, park: form.ready.park ?? null } : null,
        setpoints: form.setpoints ?? null,
        counter: form.counter ?? null,
      }
  }
}
