/** What terminal and page say of a cruise in the same words. */
import type { Cruise } from '../motion/cruise.js'
import { limitsNamed, shareTold, surgeTold, yawTold } from './envelope-words.js'

const DEGREES = 180 / Math.PI

/** `Cruise at 0.4 m/s and 5 deg/s` */
export function cruiseTitle({ placed }: Cruise): string {
  const turning = placed.yaw === 0 ? '' : ` and ${yawTold(placed.yaw)}`
  return `Cruise at ${surgeTold(placed.surge)}${turning}`
}

/** Is it borne? A sentence. */
export function cruiseOutcome({ placed: { share, boundary } }: Cruise): string {
  if (share <= 1) return `Inside, at ${shareTold(share)} of the way to the boundary.`
  const way = Number.isFinite(share)
    ? `at ${shareTold(share)} of the way to the boundary`
    : 'where nothing is borne'
  return `OUTSIDE, ${way}: ${limitsNamed(boundary.limits)} gives out. The arms do not bear it; the figures are of a motion that they cannot make.`
}

/** Names and values, in the order in which one rests on the other. */
export function cruiseFacts(cruise: Cruise): (readonly [name: string, value: string])[] {
  const { surge, sway, yaw, speed, wander, sides, power, battery } = cruise
  const drift =
    Math.abs(sway) < 5e-4
      ? ''
      : `, drifting to ${sway > 0 ? 'port' : 'starboard'} at ${shown(Math.abs(sway), 'm/s')}`
  const turn =
    Math.abs(yaw) < 5e-5
      ? ''
      : `, turning to ${yaw > 0 ? 'port' : 'starboard'} at ${shown(Math.abs(yaw) * DEGREES, 'deg/s')}`
  return [
    [
      'craft speed',
      `${shown(speed, 'm/s')} (${shown(3.6 * speed, 'km/h')}) ${surge < 0 ? 'astern' : 'ahead'}${drift}${turn}`,
    ],
    ['within a stroke', `it rises and falls by ${shown(wander, 'm/s')} at most`],
    [
      'cadence',
      sides
        .map(
          ({ side, way, cadence, speed: blade }) =>
            `${side} ${shown(60 * cadence, '1/min')} ${way}, blade at ${shown(blade, 'm/s')}`,
        )
        .join('; '),
    ],
    [
      'power of the joints',
      `${shown(power.driving - power.braking, 'W')}: ${shown(power.driving, 'W')} driving less ${shown(power.braking, 'W')} braking, mean over whole strokes`,
    ],
    [
      'where it goes',
      `friction of the joints ${shown(power.friction, 'W')}, left in the water at the blades ${shown(power.slip, 'W')}, moving the hull ${shown(power.hull, 'W')}`,
    ],
    ...(battery === null
      ? [
          [
            'endurance',
            'not told: the rig states no battery; add the section battery, as rigs/reservoir-skiff.yaml has it',
          ] as const,
        ]
      : ([
          ['from the battery', `${shown(battery.drawn, 'W')}, a current of ${shown(battery.current, 'A')}`],
          ['energy', `${shown(battery.energyPerMetre / 3.6, 'W h/km')}`],
          ['endurance', hours(battery.time)],
          ['range', `${shown(battery.range / 1000, 'km')}${turn === '' ? '' : ' along its curve'}`],
        ] as const)),
  ]
}

/** Where the driving power goes; what is held back by braking drives was driven in before. */
export function powerParts({ power }: Cruise): { readonly name: string; readonly power: number }[] {
  return [
    { name: 'left in the water at the blades', power: power.slip },
    { name: 'friction of the joints', power: power.friction },
    { name: 'moving the hull', power: power.hull },
    { name: 'given back and braked away', power: power.braking },
  ]
}

function hours(time: number): string {
  return time < 3600 ? shown(time / 60, 'min') : shown(time / 3600, 'h')
}

/** Three digits; what is less than a thousandth of the unit is nothing. */
function shown(value: number, unit: string): string {
  const text =
    Math.abs(value) < 1e-3
      ? '0'
      : Math.abs(value) >= 1000
        ? value.toFixed(0)
        : String(Number(value.toPrecision(3)))
  return `${text} ${unit}`
}
