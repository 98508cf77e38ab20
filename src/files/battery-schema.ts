/** How a rig file says what its arms draw their power from. */
import type { BatterySettings } from './craft.js'
import { number, section } from './fields.js'
import { quantity } from './quantity.js'

const share = (about: string) => quantity('share', about, { min: '1 %', max: '100 %' })

export const batteryForm = section('The battery of the arms', {
  capacity: quantity('charge', 'as rated for the time of discharge', { above: '0 A h', max: '100000 A h' }),
  rated: quantity('long time', 'of discharge that the capacity is rated for', {
    above: '0 h',
    max: '30 d',
  }).prefault('20 h'),
  exponent: number("Peukert's: 1 is ideal, lead-acid 1.1 to 1.3, lithium 1.02 to 1.08", 1, 2).prefault(1.05),
  voltage: quantity('voltage', 'mean under load', { above: '0 V', max: '1000 V' }),
  usable: share('of the charge that may be used').prefault('80 %'),
  efficiency: share('of what lies between battery and drives').prefault('85 %'),
  standby: quantity('power', 'drawn all the time, whatever the arms do: drives at rest, computers, lamps', {
    min: '0 W',
    max: '100000 W',
  }).prefault('0 W'),
}).transform(({ rated, ...battery }): BatterySettings => ({ ...battery, rating: rated }))
