/** Why a bus cannot be opened, in one form. */
import { DrystrokeError } from '../errors.js'

/**
 * @param place the device, interface or address
 * @param found what is wrong, without a full stop
 * @param advice what to do, without a full stop
 */
export function noBus(place: string, found: string, advice: string, cause?: unknown): DrystrokeError {
  return new DrystrokeError('bus-access', `${place}: ${found}; ${advice}`, { place }, cause)
}
