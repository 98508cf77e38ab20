/** All frames of a frame map, and what their numbers mean in the words that drives of every kind share. */
import type { FrameMap, MapCommand } from '../../files/rig.js'
import type { DriveCommand, ReportedState } from '../observation.js'
import { FrameCodec } from './frame-codec.js'

/** What a command frame of a map does, as a command of the drive state machine. */
export const COMMAND_OF: Readonly<Record<MapCommand, DriveCommand>> = {
  enable: 'enable operation',
  stop: 'quick stop',
  disable: 'disable voltage',
  reset: 'fault reset',
}

export class MapCodec {
  readonly map: FrameMap
  readonly request: FrameCodec | null
  readonly setpoint: FrameCodec
  readonly feedback: FrameCodec
  readonly commands: ReadonlyMap<MapCommand, FrameCodec>

  constructor(map: FrameMap) {
    this.map = map
    this.request = map.request && new FrameCodec(map.request)
    this.setpoint = new FrameCodec(map.setpoint)
    this.feedback = new FrameCodec(map.feedback)
    const { commands } = map
    this.commands = new Map(
      (Object.keys(COMMAND_OF) as MapCommand[]).flatMap((use) => {
        const frame = commands[use]
        return frame ? [[use, new FrameCodec(frame)] as const] : []
      }),
    )
  }

  /**
   * State of the drive by its feedback. A fault goes before all; a drive that confirms a stop and says that it is off is off;
   * one that confirms it and does not is still on its way to rest, or holds.
   */
  state(data: Uint8Array): ReportedState {
    const { states, confirmsStop } = this.map
    const number = this.feedback.number('state', data)!
    if (states.fault.includes(number)) return 'fault'
    if (states.off.includes(number)) return 'switch on disabled'
    if (confirmsStop?.values.includes(this.feedback.number(confirmsStop.signal, data)!))
      return 'quick stop active'
    return states.enabled.includes(number) ? 'operation enabled' : 'unknown'
  }
}
