/** A serial port that cannot carry what the rig asks of it is refused before anything is opened: a stop would wait behind setpoints. */
import { type LineLoad, lineCapacities } from '../bus/capacity.js'
import { isPseudoTerminal } from '../bus/serial.js'
import { DrystrokeError } from '../errors.js'
import type { Rig } from '../files/rig.js'

/** @throws DrystrokeError `file-invalid` with the figures of each line that is too slow */
export function refuseSlowLines(rigFile: string, rig: Rig): void {
  const slow = lineCapacities(rig).filter(({ enough, device }) => !enough && !isPseudoTerminal(device))
  if (slow.length === 0) return
  const lines = slow.map(
    ({ bus, device, toArms, fromArms }) =>
      `${rigFile}: bus ${bus}: ${device} is too slow for the rig at ${rig.control.rate} Hz: ` +
      `to the arms ${told(toArms)}, from the arms ${told(fromArms)}, half as much again to spare included`,
  )
  throw new DrystrokeError(
    'file-invalid',
    `${lines.join('\n')}\nState the port's true rate as serial-rate of the bus (an adapter on USB that takes no notice of it may say "12 Mbit/s"), lower control.rate, or share the joints among more buses.`,
    { file: rigFile },
  )
}

function told({ framesPerSecond, wanted, available }: LineLoad): string {
  const kbit = (rate: number): string => (rate / 1e3).toFixed(0)
  return `${framesPerSecond.toFixed(0)} frames/s want ${kbit(wanted)} of ${kbit(available)} kbit/s`
}
