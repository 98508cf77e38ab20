/** A small arm that is enabled, for faults to be brought about. */
import { OBJECT } from '../../../../src/wire/cia402/objects.js'
import { smallRig, Talk } from '../line.js'

export const enabled = (
  overrides: Parameters<Talk['enable']>[0] = [],
  {
    simulation = {},
    count = 1,
    seed = 1,
  }: { simulation?: Parameters<typeof smallRig>[0]; count?: number; seed?: number } = {},
): Talk => {
  const talk = new Talk(smallRig(simulation, { count }), seed)
  talk.enable(overrides)
  talk.heard.length = 0
  return talk
}

export const BEATS: Parameters<Talk['enable']>[0] = [[OBJECT.producerHeartbeat, 50]]

/** A slow swing, rad. */
export const swing = (t: number): number => 0.3 * Math.sin(2 * t)

/** Heartbeats and boot-up messages of the first node: their states. */
export const beats = (talk: Talk): number[] =>
  talk.heard.filter(({ frame }) => frame.id === 0x70b).map(({ frame }) => frame.data[0]!)
