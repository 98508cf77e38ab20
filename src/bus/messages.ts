/** The messages of a rig's bus while a run plays, from the rig alone: who sends what, how long it is, and how often it comes at most. */
import { identifierOf, type MapFrame } from '../files/frame-map.js'
import { type FramesJoint, isCia402, isFrames, type Rig } from '../files/rig.js'
import { OUR_NODE } from '../wire/cia402/network.js'
import { COB } from '../wire/cia402/objects.js'
import { FEEDBACK_BYTES, SETPOINT_BYTES } from '../wire/cia402/process.js'
import { reportBytes } from '../wire/cia402/reports.js'

export type MessageUse =
  | 'SYNC'
  | 'controlword'
  | 'request'
  | 'stop'
  | 'setpoint'
  | 'feedback'
  | 'report'
  | 'heartbeat'
  | 'emergency'

export interface BusMessage {
  /** CAN identifier, 11 bits: the lower one goes first. */
  readonly id: number
  readonly use: MessageUse
  /** Name of the joint that sends it or that it is for; null: all of the bus. */
  readonly joint: string | null
  readonly from: 'host' | 'arms'
  /** of data */
  readonly bytes: number
  /** s, least time from one to the next */
  readonly period: number
  /** The host's message that is answered by this one; null: it comes by itself. */
  readonly answers: 'SYNC' | 'request' | null
}

/**
 * Highest priority first. A stop may come in any control period, and each drive may send an emergency message in any: what its inhibit
 * time is (1015h) the rig does not say. SDO goes before and after motion only.
 */
export function messagesOf(rig: Rig, bus: number): BusMessage[] {
  const joints = rig.joints.filter((joint) => joint.wire.bus === bus)
  return [
    ...cia402Messages(rig, bus, joints.filter(isCia402)),
    ...mapMessages(rig, joints.filter(isFrames)),
  ].sort((a, b) => a.id - b.id)
}

function cia402Messages(
  rig: Rig,
  bus: number,
  joints: readonly { readonly name: string; readonly wire: { readonly node: number } }[],
): BusMessage[] {
  // No SYNC and no heartbeat go to arms that speak frames of their own.
  if (joints.length === 0) return []
  const { period } = rig.control
  const { controlword, reports } = rig.buses[bus]!
  const mine = { joint: null, from: 'host', period, answers: null } as const
  // Where one identifier is shared, one frame stops all drives.
  const stops =
    controlword === null
      ? joints.map(({ name, wire }) => ({ ...mine, joint: name, id: COB.controlword + wire.node }))
      : [{ ...mine, id: controlword }]
  return [
    { ...mine, id: COB.sync, use: 'SYNC', bytes: 0 },
    ...stops.map((stop) => ({ ...stop, use: 'controlword' as const, bytes: 2 })),
    // From a finished tick, so never sooner than its own period.
    { ...mine, id: COB.heartbeat + OUR_NODE, use: 'heartbeat', bytes: 1, period: rig.link.ourHeartbeat },
    ...joints.flatMap(({ name, wire: { node } }): BusMessage[] => {
      const its = { joint: name, from: 'arms', period, answers: null } as const
      return [
        { ...its, from: 'host', id: COB.setpoint + node, use: 'setpoint', bytes: SETPOINT_BYTES },
        { ...its, id: COB.feedback + node, use: 'feedback', bytes: FEEDBACK_BYTES, answers: 'SYNC' },
        ...(reports === null
          ? []
          : [
              {
                ...its,
                id: COB.reports + node,
                use: 'report' as const,
                bytes: reportBytes(reports),
                period: reports.every * period,
                answers: 'SYNC' as const,
              },
            ]),
        { ...its, id: COB.emergency + node, use: 'emergency', bytes: 8 },
        { ...its, id: COB.heartbeat + node, use: 'heartbeat', bytes: 1, period: rig.link.driveHeartbeat },
      ]
    }),
  ]
}

/** Arms that speak frames of their own, with the lengths of their maps; what goes to all is one frame. */
function mapMessages({ control: { period } }: Rig, joints: readonly FramesJoint[]): BusMessage[] {
  const found = new Map<number, BusMessage>()
  for (const { name, wire } of joints) {
    const { map, node } = wire
    const put = (frame: MapFrame, rest: Pick<BusMessage, 'use' | 'from' | 'period' | 'answers'>): void => {
      const joint = frame.step === 0 ? null : name
      const id = identifierOf(frame, node)
      found.set(id, { ...rest, id, joint, bytes: frame.bytes })
    }
    const mine = { from: 'host', period, answers: null } as const
    if (map.request) put(map.request, { ...mine, use: 'request' })
    put(map.setpoint, { ...mine, use: 'setpoint' })
    put(map.commands.stop, { ...mine, use: 'stop' })
    const asked = map.request ? 'request' : null
    put(map.feedback, { use: 'feedback', from: 'arms', period: map.every ?? period, answers: asked })
  }
  return [...found.values()]
}
