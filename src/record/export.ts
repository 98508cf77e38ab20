/** A recording's frames in a public format: the text log that candump writes and canplayer plays. */
import { join } from 'node:path'
import { candumpLine } from '../wire/candump.js'
import { RECORDING_FILES } from './folder.js'
import { PcapngReader } from './pcapng-reader.js'

const CHUNK = 1 << 16

/**
 * Text of a candump log in pieces, whole lines each, so that a recording of any length takes the same memory. Times count
 * from the start of the run. A recording that was cut gives its whole frames.
 * @param origin seconds to add to every time, for readers that want a date
 * @throws DrystrokeError `recording-invalid`
 */
export function* exportCandump(folder: string, origin = 0): Generator<string, void, undefined> {
  const frames = new PcapngReader(join(folder, RECORDING_FILES.frames))
  try {
    let text = ''
    while (frames.next()) {
      text += `${candumpLine(frames.t, frames.names[frames.bus]!, frames.frame, origin)}\n`
      if (text.length < CHUNK) continue
      yield text
      text = ''
    }
    if (text !== '') yield text
  } finally {
    frames.close()
  }
}
