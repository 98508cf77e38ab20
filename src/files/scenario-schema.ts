/**
 * How a scenario file is written. Names of joints, arms and watches, and the order of times, are checked in
 * scenario-references.ts, where the rig is known.
 */
import { z } from 'zod'
import { choice, flag, list, name, section, sentence, whole } from './fields.js'
import { quantity, quantityOrShare } from './quantity.js'
import { PLANTS } from './rig.js'
import { BUS_FAULTS, FAULTS, OPERATOR_ACTIONS } from './scenario.js'

/** Fastest surge and fastest turn that a scenario may command, either way. */
export const MOST_SURGE = '3 m/s'
export const MOST_YAW = '180 deg/s'

const at = (about: string) => quantity('time', about, { min: '0 s', max: '1440 min' })
const span = (about: string) => quantity('time', about, { min: '0 s', max: '1440 min' })

const commandForm = section('From a time on, the command is this one', {
  at: at('from the moment the arms stand parked and ready'),
  surge: quantityOrShare(
    'speed',
    'forward +',
    { min: `-${MOST_SURGE}`, max: MOST_SURGE },
    "the rig's stroke.fastest",
  ),
  yaw: quantity('angular speed', 'left turn +', { min: `-${MOST_YAW}`, max: MOST_YAW }),
  over: span('reached linearly over this time from the command before').prefault('0 s'),
})

const NAMES_JOINT = z
  .string({ error: 'the name of a joint, such as port.elbow' })
  .meta({ description: 'arm.joint, as the rig names them', examples: ['port.elbow'] })

const NAMES_BUS = z
  .string({ error: 'the name of a bus, such as port-can' })
  .meta({ description: 'as the rig names it', examples: ['port-can'] })

const begins = at('when it begins')
const lasts = quantity('time', 'left out: to the end', { above: '0 s', max: '1440 min' }).optional()
const everyFault = { at: begins, lasts, joint: NAMES_JOINT }
const everyBusFault = { at: begins, lasts, bus: NAMES_BUS }

const faultForm = z
  .discriminatedUnion(
    'fault',
    [
      section('The drive sends nothing any more', { ...everyFault, fault: z.literal('silent') }),
      section('The drive goes on sending the same position', { ...everyFault, fault: z.literal('frozen') }),
      section('The joint cannot move', { ...everyFault, fault: z.literal('jammed') }),
      section('The encoder jumps', {
        ...everyFault,
        fault: z.literal('offset'),
        angle: quantity('angle', 'by which it jumps', { min: '-360 deg', max: '360 deg' }),
      }),
      section('Frames of the drive are lost', {
        ...everyFault,
        fault: z.literal('dropped'),
        share: quantity('share', 'of its frames', { above: '0 %', max: '100 %' }),
      }),
      section('Frames of the drive come late', {
        ...everyFault,
        fault: z.literal('late'),
        delay: quantity('time', 'by which they come late', { above: '0 s', max: '10 s' }),
      }),
      section('The drive has no power; when it is over it boots, its set-up is lost', {
        ...everyFault,
        fault: z.literal('unpowered'),
      }),
      section("The harness's interface to the bus is down", { ...everyBusFault, fault: z.literal('down') }),
      section("The harness's plug is pulled: nobody acknowledges what it sends", {
        ...everyBusFault,
        fault: z.literal('unplugged'),
      }),
      section("The harness's adapter vanishes, for good", {
        at: begins,
        bus: NAMES_BUS,
        fault: z.literal('gone'),
      }),
      section('Frames of the bus are disturbed, and sent again', {
        ...everyBusFault,
        fault: z.literal('disturbed'),
        share: quantity('share', 'of all frames', { above: '0 %', max: '100 %' }),
      }),
      section('Nothing that the harness sends comes through, until its controller switches itself off', {
        ...everyBusFault,
        fault: z.literal('bus-off'),
      }),
    ],
    {
      error: `a section with the keys at, fault and joint (${FAULTS.join(', ')}) or bus (${BUS_FAULTS.join(', ')})`,
    },
  )
  .meta({ description: 'What a simulated arm does wrong, or the mock bus' })

const operatorForm = section('What the operator does', {
  at: at('when'),
  do: choice('the action', OPERATOR_ACTIONS),
})

const expectForm = z
  .discriminatedUnion(
    'outcome',
    [
      section('The scenario plays to its end without a stop and without a failure', {
        outcome: z.literal('finish'),
        strokes: list(
          section('Strokes that an arm makes at least, counted from feedback', {
            arm: z.string({ error: 'the name of an arm' }).meta({ description: 'as the rig names it' }),
            direction: choice('of the strokes', ['ahead', 'astern']),
            least: whole('how many', 1, 100000),
          }),
          'arms that are not named are not counted',
          0,
          32,
        ).prefault([]),
        parked: flag('whether every blade must be parked out of the water at the end'),
      }),
      section('The right outcome is a stop, from this source and no other', {
        outcome: z.literal('stop'),
        by: z
          .string({ error: 'what stops: operator, gate, drive, or the name of a watch' })
          .meta({ description: 'operator, gate, drive, or the name of a watch' }),
        category: choice('of the stop, after IEC 60204-1; 2: held', [0, 1, 2]).optional(),
        joint: NAMES_JOINT.optional(),
        bus: NAMES_BUS.optional(),
        after: at(
          'the cause, from which `within` counts; left out: the first fault or operator stop',
        ).optional(),
        within: quantity('time', 'from the cause to the stop', { above: '0 s', max: '60 s' }),
        still: quantity('time', 'from the stop to the last joint still', { above: '0 s', max: '60 s' }),
        'no-motion': flag('whether no joint may move again once still').prefault(true),
      }),
    ],
    { error: 'a section with the key outcome: finish or stop' },
  )
  .meta({ description: 'What must come of it for the verdict to be pass' })

export const scenarioForm = section('A scenario: a scripted run', {
  name: name('of the scenario'),
  about: sentence('what the scenario is for'),
  duration: quantity('time', 'from the moment the arms stand parked and ready', {
    min: '0.1 s',
    max: '1440 min',
  }),
  plant: choice('what simulated arms stand on; left out: as the rig says', PLANTS).optional(),
  commands: list(commandForm, 'in order of time', 0, 10000).prefault([]),
  faults: list(faultForm, 'of simulated arms and mock buses', 0, 1000).prefault([]),
  operator: list(operatorForm, 'in order of time', 0, 1000).prefault([]),
  expect: expectForm,
})

export type ScenarioForm = z.output<typeof scenarioForm>
