/** How long a battery lasts, and how far it goes: figures for planning, with what they rest on beside them. */
import { expectPositive, expectWithin } from './bounds.js'

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

export interface Cruise {
  /** W, mean electrical power of all drives over whole strokes */
  readonly power: number
  /** 0..1, of what lies between battery and drives */
  readonly efficiency: number
  /** m/s, made good */
  readonly speed: number
}

export interface Endurance {
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
export function endurance(cruise: Cruise, battery: Battery): Endurance {
  const { power, efficiency, speed } = cruise
  expectPositive('cruise.power', power, 'W')
  expectShare('cruise.efficiency', efficiency)
  expectPositive('cruise.speed', speed, 'm/s')
  expectPositive('battery.voltage', battery.voltage, 'V')
  expectShare('battery.usable', battery.usable)
  const drawn = power / efficiency
  const current = drawn / battery.voltage
  const time = battery.usable * dischargeTime(current, battery)
  return {
    current,
    time,
    range: speed * time,
    energyPerMetre: drawn / speed,
    assumptions: [
      `mean electrical power ${power} W at the drives, ${100 * efficiency} % of it left after the way from the battery`,
      `mean voltage ${battery.voltage} V under load, a steady current; strokes draw it in peaks, which shortens the time`,
      `${speed} m/s made good, without wind, waves and current`,
      `${100 * battery.usable} % of the charge used, Peukert exponent ${battery.exponent}; a new battery at the temperature of its rating`,
      'nothing else draws from the battery: lamps, computers and radios come on top',
    ],
  }
}

function expectShare(what: string, value: number): void {
  expectPositive(what, value, '')
  expectWithin(what, value, 0, 1, '')
}
