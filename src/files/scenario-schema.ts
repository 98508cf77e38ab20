/**
 * How a scenario file is written. Names of joints, arms and watches, and the order of times, are checked in
 * scenario-references.ts, where the rig is known.
 */
import { z } from 'zod'
import { faultForm, NAMES_BUS, NAMES_JOINT } from './faults/form.js'
import { choice, flag, list, name, section, sentence, whole } from './fields.js'
import { quantity, quantityOrShare } from './quantity.js'
import { PLANTS } from './rig.js'
import { OPERATOR_ACTIONS } from './scenario.js'

/** Fastest surge and fastest turn that a scenario may command, either way. */
export const MOST_SURGE = '3 m/s'
export const MOST_YAW = '180 deg/s'

const at = (about: string) => quantity('time', about, { min: '0 s', max: '1440 min' })
const span = (about: string) => quantity('time', about, { min: '0 s', max: '1440 min' })

const commandForm = section('From a time on, the command is this one', {
  ceases: z.never().optional(),
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

const ceaseForm = section('From a time on no command comes, and the driver must come to rest by itself', {
  at: at('from the moment the arms stand parked and ready'),
  ceases: z.literal(true, { error: 'true' }).meta({ description: 'until the next entry' }),
  surge: z.never().optional(),
  yaw: z.never().optional(),
  over: z.never().optional(),
})

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
  commands: list(z.union([commandForm, ceaseForm]), 'in order of time', 0, 10000).prefault([]),
  faults: list(faultForm, 'of simulated arms, mock buses, driver and clock', 0, 1000).prefault([]),
  operator: list(operatorForm, 'in order of time', 0, 1000).prefault([]),
  expect: expectForm,
})

export type ScenarioForm = z.output<typeof scenarioForm>
