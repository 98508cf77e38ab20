/** How long a battery lasts, and how far it goes: figures for planning, with what they rest on beside them. */
import { expectNotNegative, expectPositive, expectWithin } from './bounds.js'

export interface Battery {
  /** A s (1 A h is 3600), as rated at `rating` */
  readonly capacity: number
  /** s, the time of discharge that the capacity is rated for: 20 h for most lead-acid batteries */
  readonly rating: number
  /** Peukert's k: 1 is ideal, lead-acid 1.1 to 1.3, lithium 1.02 to 1.08 (common practice, no source) */
  readonly exponent: number
  /** V, mean under load */
  readonly voltage: number
  /** 0..1, share of the charge that may be used */
  readonly usable: number
}

/** What is drawn, and how fast the craft goes meanwhile. */
export interface Draw {
  /** W, mean electrical power of all drives over whole strokes */
  readonly power: number
  /** 0..1, of what lies between battery and drives */
  readonly efficiency: number
  /** W, from the battery all the time on top of it */
  readonly standby?: number
  /** m/s, made good */
  readonly speed: number
}

export interface Endurance {
  /** W, from the battery */
  readonly drawn: number
  /** A, from the battery */
  readonly current: number
  /** s */
  readonly time: number
  /** m */
  readonly range: number
  /** J/m; one W h/km is 3.6 J/m */
  readonly energyPerMetre: number
  /** What the figures rest on; to be shown with them */
  readonly assumptions: readonly string[]
}

/**
 * s until a battery is empty at a steady current: H (C / (I H))^k.
 * Source: W. Peukert, "Ueber die Abhaengigkeit der Kapazitaet von der Entladestromstaerke bei Bleiakkumulatoren", Elektrotechnische
 * Zeitschrift 20 (1897), in the usual form with the rated time. It was found for lead-acid batteries at one temperature. Below the rated current it would
 * promise more than the rated charge: C / I is given there instead.
 * @param current A; @throws DrystrokeError `file-invalid` for figures out of range
 */
export function dischargeTime(
  current: number,
  { capacity, rating, exponent }: Pick<Battery, 'capacity' | 'rating' | 'exponent'>,
): number {
  expectPositive('current', current, 'A')
  expectPositive('battery.capacity', capacity, 'A s')
  expectPositive('battery.rating', rating, 's')
  expectWithin('battery.exponent', exponent, 1, 2, '')
  const ratio = capacity / (current * rating)
  return ratio > 1 ? capacity / current : rating * ratio ** exponent
}

/**
 * How long and how far, at a steady mean current: power over efficiency and voltage, Peukert's time of it, and the speed made good.
 * @throws DrystrokeError `file-invalid` for figures out of range
 */
export function endurance(draw: Draw, battery: Battery): Endurance {
  const { power, efficiency, speed, standby = 0 } = draw
  expectPositive('cruise.power', power, 'W')
  expectShare('cruise.efficiency', efficiency)
  expectPositive('cruise.speed', speed, 'm/s')
  expectNotNegative('battery.standby', standby, 'W')
  expectPositive('battery.voltage', battery.voltage, 'V')
  expectShare('battery.usable', battery.usable)
  const drawn = power / efficiency + standby
  const current = drawn / battery.voltage
  const time = battery.usable * dischargeTime(current, battery)
  return {
    drawn,
    current,
    time,
    range: speed * time,
    energyPerMetre: drawn / speed,
    assumptions: [
      `Mean electrical power ${shown(power)} W at the drives; ${shown(100 * efficiency)} % of what the battery gives comes to them.`,
      `Mean voltage ${shown(battery.voltage)} V under load, a steady current. Strokes draw it in peaks, which shortens the time.`,
      `${shown(speed)} m/s made good, without wind, waves and current.`,
      `${shown(100 * battery.usable)} % of the charge used, Peukert exponent ${battery.exponent}; a new battery at the temperature of its rating.`,
      standby === 0
        ? 'Nothing else draws from the battery (battery.standby): drives at rest, computers and lamps come on top.'
        : `Beside the motion ${shown(standby)} W are drawn all the time (battery.standby).`,
    ],
  }
}

/** Three digits. */
function shown(value: number): string {
  return String(Number(value.toPrecision(3)))
}

function expectShare(what: string, value: number): void {
  expectPositive(what, value, '')
  expectWithin(what, value, 0, 1, '')
}
