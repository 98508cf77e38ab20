/**
 * How a frame map is written in a rig: for arms that speak frames of their own. Checks within one map stand here; those
 * that need joints and buses stand in frame-map-references.ts.
 */
import { z } from 'zod'
import { list, name, section, sentence, whole } from './fields.js'
import {
  bitsOf,
  type FrameMap,
  framesOf,
  MAP_COMMANDS,
  type MapFrame,
  type MapSignal,
  rangeOf,
} from './frame-map.js'
import {
  commandSignal,
  feedbackSignal,
  numbers,
  type SignalForm,
  setpointSignal,
  signalOf,
} from './frame-map-signals.js'
import { quantity } from './quantity.js'

const HIGHEST_IDENTIFIER = 0x7ff

const idMessage =
  'an identifier up to "0x7ff", alone or with the node in it, such as "0x0a0", "0x140 + node" or "0x005 + 16 x node"'
const ID = /^0x([0-9a-fA-F]{1,3})(?: \+ (?:([1-9]\d{0,3}) x )?(node))?$/
const identifier = z
  .string({ error: idMessage })
  .meta({
    description: "identifier (11 bits); `node` is the joint's",
    pattern: ID.source,
    examples: ['0x140 + node'],
  })
  .transform((text, context) => {
    const [, hex, times, node] = ID.exec(text) ?? []
    const base = Number.parseInt(hex ?? '', 16)
    if (base <= HIGHEST_IDENTIFIER) return { base, step: node ? Number(times ?? 1) : 0 }
    context.issues.push({ code: 'custom', message: idMessage, input: text })
    return z.NEVER
  })

const frameKeys = <T extends z.ZodType>(signal: T) => ({
  id: identifier,
  bytes: whole('length', 0, 8),
  signals: list(
    signal.meta({ description: 'One signal' }) as T,
    'what stands in it; bits that no signal names are 0',
    0,
    64,
  ).prefault([]),
})

const commandFrame = (about: string) => section(about, frameKeys(commandSignal)).superRefine(layout)

const setpointFrame = section(
  'Sent to each joint once a control period',
  frameKeys(setpointSignal),
).superRefine((frame, context) => {
  layout(frame, context)
  needs(frame.signals, ['position'], context)
})

const feedbackFrame = section('Comes from each joint once a control period', {
  ...frameKeys(feedbackSignal),
  every: quantity('time', 'its period, where it comes without being asked for', {
    min: '1 ms',
    max: '1 s',
  }).optional(),
}).superRefine((frame, context) => {
  layout(frame, context)
  needs(frame.signals, ['position', 'state'], context)
})

type Refine = { addIssue(issue: { code: 'custom'; path: (string | number)[]; message: string }): void }

function needs(signals: readonly SignalForm[], wanted: readonly SignalForm['is'][], context: Refine): void {
  for (const is of wanted) {
    if (!signals.some((s) => s.is === is))
      context.addIssue({ code: 'custom', path: ['signals'], message: `a signal with is: ${is} among them` })
  }
}

/** Signals lie inside the frame, apart from each other, and hold the numbers that they are said to hold. */
function layout(
  { bytes, signals }: { bytes: number; signals: readonly SignalForm[] },
  context: Refine,
): void {
  const owner = new Map<number, string>()
  const named = new Set<string>()
  signals.forEach((form, i) => {
    const signal = signalOf(form)
    const complain = (key: string, message: string) =>
      context.addIssue({ code: 'custom', path: ['signals', i, key], message })
    const { is, name } = signal
    if (is !== 'constant') {
      if (named.has(name)) complain(is === 'other' ? 'name' : 'is', `"${name}" once in a frame`)
      named.add(name)
    }
    const bits = bitsOf(signal)
    if (bits.some((b) => b < 0 || b >= 8 * bytes)) {
      const way = signal.order === 'little' ? 'after' : 'before'
      const room = `${signal.length} bits from byte ${signal.byte}, bit ${signal.bit} on into the bytes ${way} it`
      complain('byte', `a place inside the frame's ${bytes} bytes: ${room} go beyond them`)
      return
    }
    const taken = bits.find((b) => owner.has(b))
    if (taken !== undefined) {
      const where = `bit ${taken & 7} of byte ${taken >> 3} belongs to ${owner.get(taken)} as well`
      complain('byte', `a place of its own: ${where}`)
      return
    }
    for (const bit of bits) owner.set(bit, is === 'other' ? name : `the ${is}`)
    holds(form, signal, complain)
  })
}

function holds(form: SignalForm, signal: MapSignal, complain: (key: string, message: string) => void): void {
  const [least, greatest] = rangeOf(signal)
  const fit = `${least} to ${greatest}, the numbers that ${signal.length} bits can hold`
  if (form.is === 'constant' && form.value > greatest) complain('value', fit)
  if (form.is !== 'state') return
  const seen = new Map<number, string>()
  for (const key of ['off', 'enabled', 'fault'] as const) {
    if (form[key].some((v) => v < least || v > greatest)) complain(key, fit)
    for (const v of form[key]) {
      if (seen.has(v)) complain(key, `numbers that do not stand under ${seen.get(v)} as well: ${v} does`)
      seen.set(v, key)
    }
  }
}

interface FrameForm {
  readonly id: { base: number; step: number }
  readonly bytes: number
  readonly signals: readonly SignalForm[]
}

const frameOf = ({ id, bytes, signals }: FrameForm): MapFrame => ({
  ...id,
  bytes,
  signals: signals.map(signalOf),
})

export const frameMapForm = section('The frames of arms that speak a language of their own', {
  name: name('by which joints name it'),
  about: sentence('whose frames these are, for reports'),
  request: commandFrame(
    'Asks for feedback once a control period; left out: feedback comes by itself',
  ).optional(),
  setpoint: setpointFrame,
  feedback: feedbackFrame,
  enable: commandFrame('Makes the drive follow setpoints'),
  stop: commandFrame('Makes the drive slow down to rest'),
  disable: commandFrame('Takes the torque away at once').optional(),
  reset: commandFrame('Ends a fault'),
  'confirms-stop': section('By what the drive confirms that it obeys a stop', {
    signal: z
      .string({ error: 'the name of a signal of the feedback' })
      .meta({ description: 'state, or the name of another signal of the feedback' }),
    values: numbers('numbers by which it confirms a stop', 1),
  }).optional(),
})
  .superRefine((form, context) => {
    const asked = form.request !== undefined
    if (asked && form.feedback.every !== undefined) {
      const message = 'no such key beside a request frame: feedback comes when it is asked for'
      context.addIssue({ code: 'custom', path: ['feedback', 'every'], message })
    } else if (!asked && form.feedback.every === undefined) {
      const message = 'the key every with its period, such as "5 ms", because the map has no request frame'
      context.addIssue({ code: 'custom', path: ['feedback'], message })
    }
    const confirms = form['confirms-stop']
    if (confirms) confirmation(form.feedback.signals, confirms, context)
    apart(resolved(form), context)
  })
  .transform((form): FrameMap => resolved(form))

function confirmation(
  signals: readonly SignalForm[],
  { signal, values }: { signal: string; values: readonly number[] },
  context: Refine,
): void {
  const found = signals.find((s) =>
    s.is === 'other' ? s.name === signal : s.is === 'state' && signal === 'state',
  )
  const complain = (key: string, message: string) =>
    context.addIssue({ code: 'custom', path: ['confirms-stop', key], message })
  if (!found) {
    complain('signal', 'state, or the name of another signal of the feedback')
    return
  }
  const [least, greatest] = rangeOf(signalOf(found))
  if (values.some((v) => v < least || v > greatest)) complain('values', `${least} to ${greatest}`)
  else if (found.is === 'state' && values.some((v) => found.enabled.includes(v) || found.fault.includes(v)))
    complain('values', 'numbers that mean neither enabled nor fault')
}

/** Two frames of one identifier must be commands that a constant tells apart. */
function apart(map: FrameMap, context: Refine): void {
  const frames = framesOf(map)
  frames.forEach(({ use, frame }, i) => {
    const twin = frames.slice(0, i).find((f) => f.frame.base === frame.base && f.frame.step === frame.step)
    if (!twin || (isCommand(use) && isCommand(twin.use) && toldApart(frame, twin.frame))) return
    const message =
      isCommand(use) && isCommand(twin.use)
        ? `an identifier that ${twin.use} does not have, or a constant at the same place with another value`
        : `an identifier that ${twin.use} does not have`
    context.addIssue({ code: 'custom', path: [use, 'id'], message })
  })
}

const isCommand = (use: string): boolean => (MAP_COMMANDS as readonly string[]).includes(use)

function toldApart(a: MapFrame, b: MapFrame): boolean {
  if (a.bytes !== b.bytes) return true
  const constants = ({ signals }: MapFrame) => signals.filter((s) => s.is === 'constant')
  return constants(a).some((x) =>
    constants(b).some((y) => x.value !== y.value && String(bitsOf(x)) === String(bitsOf(y))),
  )
}

interface MapForm {
  readonly name: string
  readonly about: string
  readonly request?: FrameForm | undefined
  readonly setpoint: FrameForm
  readonly feedback: FrameForm & { readonly every?: number | undefined }
  readonly enable: FrameForm
  readonly stop: FrameForm
  readonly disable?: FrameForm | undefined
  readonly reset: FrameForm
  readonly 'confirms-stop'?: { signal: string; values: number[] } | undefined
}

function resolved(form: MapForm): FrameMap {
  const { name, about, request, setpoint, feedback, enable, stop, disable, reset } = form
  const states = feedback.signals.find((s) => s.is === 'state')
  return {
    name,
    about,
    request: request ? frameOf(request) : null,
    every: feedback.every ?? null,
    setpoint: frameOf(setpoint),
    feedback: frameOf(feedback),
    commands: {
      enable: frameOf(enable),
      stop: frameOf(stop),
      disable: disable ? frameOf(disable) : null,
      reset: frameOf(reset),
    },
    states: {
      off: states?.off ?? [],
      enabled: states?.enabled ?? [],
      fault: states?.fault ?? [],
    },
    confirmsStop: form['confirms-stop'] ?? null,
  }
}
