/**
 * What a rig's `watch` section may set, and its defaults. The defaults are common practice without a source: they suit
 * a light arm whose drives are asked at 100 Hz or faster.
 */
import { z } from 'zod'
import { choice, flag, number, optionalSection } from '../files/fields.js'
import { quantity } from '../files/quantity.js'

/** Odd, so that the fit has a sample at its centre. */
const WINDOWS = [3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 25, 31] as const

/** Both measures are zero or less; nearer to zero is smoother. */
const roughness = (arc: number) => ({
  arc: number('spectral arc length (SPARC) below which it is rough', -100, -1).prefault(arc),
  jerk: number('log dimensionless jerk (LDLJ) below which it is rough', -100, 0).prefault(-11),
})

export const watchSchemas = {
  limits: optionalSection('position, speed and acceleration of each joint', {
    warning: quantity('share', 'share of a limit beyond which a warning is given', {
      min: '10 %',
      max: '100 %',
    }).prefault('90 %'),
    speed: optionalSection('filter for speed', {
      window: choice('feedback samples of the least-squares fit; few, to be fast', WINDOWS).prefault(3),
    }),
    acceleration: optionalSection('filter for acceleration', {
      window: choice('feedback samples of the least-squares fit; many, to be quiet', WINDOWS).prefault(9),
      sigmas: number('noise floor in standard deviations', 1, 10).prefault(4),
    }),
    held: quantity('angle', 'motion of a joint that its drive holds, before the approach', {
      above: '0 deg',
      max: '90 deg',
    }).prefault('1 deg'),
  }),
  tracking: optionalSection('following error: setpoint minus feedback', {
    window: quantity('angle', 'largest following error with the lag removed', {
      above: '0 deg',
      max: '90 deg',
    }).prefault('1.5 deg'),
    timeout: quantity('time', 'how long the error may be larger', { min: '0 s', max: '10 s' }).prefault(
      '20 ms',
    ),
    lag: optionalSection('delay between setpoint and feedback', {
      most: quantity('time', 'longest lag that passes', { min: '0 s', max: '1 s' }).prefault('60 ms'),
      learn: quantity('time', 'motion from which a lag is learned, half of it in each direction', {
        min: '50 ms',
        max: '60 s',
      }).prefault('1 s'),
      speed: quantity('angular speed', 'slower motion teaches nothing', { above: '0 deg/s' }).prefault(
        '5 deg/s',
      ),
      set: z
        .record(z.string(), quantity('time', 'lag of this joint', { min: '0 s', max: '1 s' }))
        .meta({ description: 'lags that are known, by joint: not learned' })
        .prefault({}),
    }),
  }),
  silence: optionalSection('age of feedback and heartbeats', {
    periods: number('control periods that feedback may be old', 1, 100).prefault(3),
    heartbeats: number('heartbeat periods that a heartbeat may be old', 1, 100).prefault(3),
    patience: quantity('time', 'how long after its start a joint may take to be seen first', {
      min: '10 ms',
      max: '60 s',
    }).prefault('1 s'),
  }),
  sense: optionalSection('feedback against true position, blades against the command', {
    witness: quantity('angle', 'largest difference between feedback and true position', {
      above: '0 deg',
      max: '90 deg',
    }).prefault('2 deg'),
    travel: quantity('length', 'way that an immersed blade may go against the command', {
      above: '0 m',
      max: '1 m',
    }).prefault('3 cm'),
    speed: quantity(
      'share',
      "how far the blade's mean speed on the even part of a drive may be off the side speed",
      {
        above: '0 %',
        max: '100 %',
      },
    ).prefault('5 %'),
    astray: quantity(
      'share',
      'how far the speed on one drive must be off to stop the arms: beyond any slip, on the way to the wrong sign',
      {
        above: '0 %',
        max: '1000 %',
      },
    ).prefault('50 %'),
    settle: quantity('time', 'how long after a change of sign the blades are not judged', {
      min: '0 s',
      max: '60 s',
    }).prefault('300 ms'),
    hold: flag('whether a blade that goes against the command is stopped and held, torque on').prefault(
      false,
    ),
    stroke: quantity('share', 'share of the stroke length that an immersed pass must cover to count', {
      min: '5 %',
      max: '100 %',
    }).prefault('50 %'),
  }),
  stroke: optionalSection("strokes of each arm, against the rig's at the commanded speed", {
    severity: choice('what a whole stroke is that is off by more', ['failure', 'warning']).prefault(
      'failure',
    ),
    length: quantity('share', 'how far the way of a stroke may be off', {
      above: '0 %',
      max: '100 %',
    }).prefault('5 %'),
    cadence: quantity('share', 'how far the cadence may be off', { above: '0 %', max: '1000 %' }).prefault(
      '5 %',
    ),
    ratio: quantity('share', 'how far the time in the water to the time out of it may be off', {
      above: '0 %',
      max: '1000 %',
    }).prefault('10 %'),
    depth: quantity(
      'share',
      "how far the immersion may be off, as a share of the rig's; deeper stops the arms",
      {
        above: '0 %',
        max: '100 %',
      },
    ).prefault('20 %'),
    clearance: quantity('share', "share of the rig's clearance that must be left on the recovery", {
      min: '0 %',
      max: '100 %',
    }).prefault('50 %'),
    angle: quantity('angle', 'how far the blade may be turned off; 5 deg push 9 % of the thrust sideways', {
      above: '0 deg',
      max: '90 deg',
    }).prefault('5 deg'),
    settle: quantity('time', 'how long before a stroke the command must have been steady', {
      min: '0 s',
      max: '60 s',
    }).prefault('500 ms'),
    wait: number(
      "times of the rig's stroke without passing its middle that count as no stroke",
      0.75,
      100,
    ).prefault(1.5),
  }),
  sides: optionalSection('the two sides beside each other', {
    severity: choice('what sides are that are out of step, or drift', ['failure', 'warning']).prefault(
      'failure',
    ),
    phase: quantity('share', 'how far coupled sides may be out of step, as a share of a stroke', {
      above: '0 %',
      max: '50 %',
    }).prefault('5 %'),
    strokes: number(
      'strokes under a steady command in which coupled sides must come into step',
      1,
      100,
    ).prefault(8),
    drift: quantity(
      'share',
      'how much faster one side may stroke, beside what is asked, as a share of the cadence',
      {
        above: '0 %',
        max: '100 %',
      },
    ).prefault('2 %'),
    travel: quantity('length', "way that an immersed blade may go as the other side's command wants it", {
      above: '0 m',
      max: '1 m',
    }).prefault('2 cm'),
    speed: quantity('share', "how near to the other side's speed a blade's must be to be taken for it", {
      above: '0 %',
      max: '20 %',
    }).prefault('5 %'),
    settle: quantity('time', 'how long the command must have been steady', {
      min: '0 s',
      max: '60 s',
    }).prefault('300 ms'),
  }),
  reversal: optionalSection('error that depends on the direction from which a joint has come', {
    warning: quantity(
      'angle',
      'reversal error that gives a warning; a servo at the longest lag looks like 0.2 deg',
      {
        above: '0 deg',
        max: '90 deg',
      },
    ).prefault('0.3 deg'),
    failure: quantity('angle', 'reversal error that fails; as much as the window of the following error', {
      above: '0 deg',
      max: '90 deg',
    }).prefault('1.5 deg'),
    speed: quantity('angular speed', 'slower motion teaches nothing', { above: '0 deg/s' }).prefault(
      '5 deg/s',
    ),
    after: quantity('angle', 'how far a joint must have gone since it turned round; more than the play', {
      min: '0 deg',
      max: '90 deg',
    }).prefault('2 deg'),
    learn: quantity('time', 'motion from which it is learned, half of it in each direction', {
      min: '50 ms',
      max: '60 s',
    }).prefault('1 s'),
  }),
  steps: optionalSection('how joints come to rest after a move', {
    least: quantity('angle', 'smallest move that is measured', { above: '0 deg', max: '360 deg' }).prefault(
      '5 deg',
    ),
    overshoot: quantity(
      'share',
      'how far beyond its end a move may swing; a loop damped by 0.6 does 9.5 % after a step',
      {
        above: '0 %',
        max: '100 %',
      },
    ).prefault('10 %'),
    settling: quantity('time', 'how long to within 2 %; a first-order lag takes 3.9 times itself', {
      min: '10 ms',
      max: '10 s',
    }).prefault('250 ms'),
  }),
  feedback: optionalSection('whether feedback is that of its joint, with its sign, scale and zero', {
    leap: number(
      'times the speed limit at which feedback may change: a frame may be a period late',
      1,
      100,
    ).prefault(2),
    echo: number(
      'samples in a row that may be the setpoint itself, ahead of any motor; noise makes two',
      1,
      1000,
    ).prefault(10),
    motion: quantity(
      'angle',
      'motion from which it is told what feedback is like: four times what an explanation may be off',
      {
        min: '0.1 deg',
        max: '90 deg',
      },
    ).prefault('2 deg'),
    scale: quantity(
      'share',
      'how far its scale may be off over a run: the window of the following error at 75 deg',
      {
        above: '0 %',
        max: '100 %',
      },
    ).prefault('2 %'),
    offset: quantity(
      'angle',
      'how far it may lie beside the true position in the mean: a quarter of sense.witness',
      {
        above: '0 deg',
        max: '90 deg',
      },
    ).prefault('0.5 deg'),
  }),
  setpoints: optionalSection('setpoints from one period to the next, and when they come', {
    rise: quantity(
      'time',
      'in which acceleration may build up to its limit; strokes of the reference driver take eight times as long',
      {
        above: '0 s',
        max: '10 s',
      },
    ).prefault('20 ms'),
    beat: quantity(
      'share',
      'how far an interval may be off, of a period: beyond that it is nearer to another beat',
      {
        above: '0 %',
        max: '1000 %',
      },
    ).prefault('50 %'),
    uneven: quantity(
      'share',
      'setpoints that may be left out, doubled or off their beat, as feedback may be lost',
      {
        min: '0 %',
        max: '100 %',
      },
    ).prefault('1 %'),
    repeated: quantity(
      'share',
      'setpoints that may be repeated in the midst of motion, where nothing even can stand',
      {
        min: '0 %',
        max: '100 %',
      },
    ).prefault('1 %'),
    silent: quantity(
      'time',
      'how long setpoints may cease; left out: link.stale-after, as old as feedback may be',
      {
        min: '1 ms',
        max: '10 s',
      },
    ).optional(),
    still: quantity(
      'length',
      'way that may be asked of an arm while its setpoints stand: a twelfth of a stroke',
      {
        above: '0 m',
        max: '10 m',
      },
    ).prefault('5 cm'),
    ramp: number(
      "times the speed of the rig's ramp at which an arm may set off: a second filter, or a jerk that is rounded",
      1,
      100,
    ).prefault(1.5),
    idle: number(
      'stroke lengths that may be asked for while one joint stands, of an arm without joints to spare: over a whole stroke',
      1,
      1000,
    ).prefault(2.5),
    step: quantity(
      'angle',
      'distance of setpoint and joint when its drive begins to follow, as limits.held',
      {
        above: '0 deg',
        max: '90 deg',
      },
    ).prefault('1 deg'),
  }),
  clearance: optionalSection('distances of the arms; set in the section clearance', {}),
  load: optionalSection('torque of each joint against the rating of its drive', {
    window: choice('feedback samples of the least-squares fits', WINDOWS).prefault(11),
    warning: quantity('share', 'share of a peak torque beyond which a warning is given', {
      min: '10 %',
      max: '100 %',
    }).prefault('90 %'),
    residual: quantity(
      'share',
      "how far the drive's own torque may be off the model (RMS), as a share of continuous torque",
      { above: '0 %', max: '1000 %' },
    ).prefault('20 %'),
    trip: quantity('time', 'how long strokes like those of the run go on afloat; left out: not known', {
      min: '1 s',
      max: '1440 min',
    }).optional(),
  }),
  stopping: optionalSection('from stop to still, and after', {
    margin: quantity('time', 'added to the time-out of the stop and the hold of still', {
      min: '0 s',
      max: '10 s',
    }).prefault('200 ms'),
    motion: quantity('angle', 'motion after the sag window that counts as motion', {
      above: '0 deg',
      max: '10 deg',
    }).prefault('0.5 deg'),
    ramps: number(
      'times the way of a quick stop at its stated ramp that passes: torque limit and load make it longer',
      1,
      100,
    ).prefault(1.5),
    periods: number('control periods without feedback after which it is lost', 1, 1000).prefault(10),
  }),
  bus: optionalSection('load, SYNC and lost frames of each bus', {
    load: optionalSection('bits on the wire over one second', {
      warning: quantity('share', 'load that gives a warning', { above: '0 %', max: '100 %' }).prefault(
        '60 %',
      ),
      limit: quantity('share', 'load that fails', { above: '0 %', max: '100 %' }).prefault('80 %'),
    }),
    period: quantity('share', 'how far a SYNC period may be off, as a share of it', {
      above: '0 %',
      max: '1000 %',
    }).prefault('50 %'),
    passive: choice('what an error-passive controller is; a failure stops the run', [
      'failure',
      'warning',
    ]).prefault('failure'),
    rise: number('counts by which error counters may rise within 10 s', 8, 255).prefault(64),
    lost: quantity('share', 'feedback frames that may be lost', { min: '0 %', max: '100 %' }).prefault('1 %'),
    doubled: quantity('share', 'feedback frames that may come twice', { min: '0 %', max: '100 %' }).prefault(
      '1 %',
    ),
    late: quantity('share', 'feedback frames that may come only after the next SYNC', {
      min: '0 %',
      max: '100 %',
    }).prefault('1 %'),
  }),
  drive: optionalSection('drive states and emergency messages; nothing to set', {}),
  smoothness: optionalSection('how smooth each half stroke is, of every joint and of the blades', {
    window: choice('feedback samples of the least-squares fit of speed', WINDOWS).prefault(21),
    joint: optionalSection('movements of a joint', {
      speed: quantity('angular speed', 'peak speed of the slowest movement that counts', {
        above: '0 deg/s',
      }).prefault('10 deg/s'),
      ...roughness(-2.5),
    }),
    blade: optionalSection('half strokes of a blade', {
      speed: quantity('speed', 'peak speed of the slowest half stroke that counts', {
        above: '0 m/s',
      }).prefault('0.1 m/s'),
      ...roughness(-6),
    }),
  }),
  vibration: optionalSection('spectrum of what is left of the following error without its lag', {
    segment: quantity('time', 'length of a segment, to the nearest power of two in samples', {
      min: '0.5 s',
      max: '60 s',
    }).prefault('5 s'),
    bands: optionalSection('bands; the last one ends at half the control rate', {
      from: quantity('frequency', 'lowest frequency that is looked at', {
        min: '0.5 Hz',
        max: '1 kHz',
      }).prefault('3 Hz'),
      middle: quantity('frequency', 'where the second band begins', { min: '0.5 Hz', max: '1 kHz' }).prefault(
        '10 Hz',
      ),
      high: quantity('frequency', 'where the third band begins', { min: '0.5 Hz', max: '1 kHz' }).prefault(
        '30 Hz',
      ),
    }),
    warning: quantity('share', 'RMS in a band beyond which a warning is given, of the acceleration limit', {
      above: '0 %',
      max: '1000 %',
    }).prefault('5 %'),
    limit: quantity('share', 'the same, that fails and stops', { above: '0 %', max: '1000 %' }).prefault(
      '25 %',
    ),
    ratio: number('times the floor around it, from which a line is one', 2, 1000).prefault(10),
    line: quantity('share', 'acceleration of a line from which it is told, of the acceleration limit', {
      above: '0 %',
      max: '1000 %',
    }).prefault('2 %'),
  }),
  health: optionalSection('what drives report of themselves, where the rig says that they do', {
    temperature: optionalSection('of a drive', {
      warning: quantity('temperature', 'beyond which a warning is given', {
        min: '0 degC',
        max: '300 degC',
      }).prefault('80 degC'),
      limit: quantity('temperature', 'beyond which it fails, and the arms stop', {
        min: '0 degC',
        max: '300 degC',
      }).prefault('100 degC'),
    }),
    voltage: optionalSection('of its supply', {
      sag: optionalSection('below what it was at rest', {
        warning: quantity('share', 'sag that gives a warning', { above: '0 %', max: '100 %' }).prefault(
          '10 %',
        ),
        limit: quantity('share', 'sag that fails, and stops', { above: '0 %', max: '100 %' }).prefault(
          '20 %',
        ),
      }),
      rise: optionalSection('above what it was at rest', {
        warning: quantity('share', 'rise that gives a warning', { above: '0 %', max: '500 %' }).prefault(
          '10 %',
        ),
        limit: quantity('share', 'rise that fails, and stops', { above: '0 %', max: '500 %' }).prefault(
          '20 %',
        ),
      }),
    }),
  }),
  order: optionalSection('each node once, and times that fit', {
    answers: number('SYNCs in a row that may have two different answers', 1, 1000).prefault(10),
    jump: number('control periods by which ticks may be off their numbers', 1, 1000).prefault(3),
    back: quantity('time', 'by which the time of a frame may be before the one heard last', {
      min: '0 s',
      max: '1 s',
    }).prefault('1 ms'),
  }),
  proof: optionalSection('the proof of the stop path before the first motion; nothing to set', {}),
  craft: optionalSection('where a craft goes that is simulated afloat', {
    over: quantity('time', 'end of the scenario over which means are taken', {
      min: '1 s',
      max: '60 min',
    }).prefault('10 s'),
  }),
  owner: optionalSection('a driver that owns the buses: its SYNC, and whether it obeys a stop', {
    sync: number('control periods without its SYNC that are borne', 1, 1000).prefault(5),
    obey: quantity('time', 'after a stop, for setpoints and enables that were under way', {
      min: '0 s',
      max: '2 s',
    }).prefault('100 ms'),
  }),
  timing: optionalSection('lateness of ticks in real time; set in the section realtime', {}),
  driver: optionalSection('the driver; a driver under test is set in the section driver', {
    react: quantity(
      'time',
      "how long an arm at rest may wait for its first setpoint after a command: as long as a person's own reaction",
      {
        min: '10 ms',
        max: '10 s',
      },
    ).prefault('250 ms'),
  }),
}

/** The resolved `watch` section of a rig: SI numbers, every default filled in. */
export type WatchSettings = { readonly [K in keyof typeof watchSchemas]: z.output<(typeof watchSchemas)[K]> }
