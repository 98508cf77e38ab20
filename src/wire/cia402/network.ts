/** NMT, heartbeat and emergency messages of CiA 301. */
import { type Frame, frame } from '../frame.js'
import type { NmtCommand, NodeState } from '../observation.js'
import { COB } from './objects.js'

const NMT: Record<NmtCommand, number> = {
  start: 1,
  stop: 2,
  'pre-operational': 128,
  'reset node': 129,
  'reset communication': 130,
}
const NODE_STATE: Record<Exclude<NodeState, 'unknown'>, number> = {
  'boot-up': 0,
  stopped: 4,
  operational: 5,
  'pre-operational': 127,
}
/** Node id of the harness itself: the sender of the heartbeat that the drives listen to. */
export const OUR_NODE = 127

const EMPTY = new Uint8Array(0)

export const SYNC_FRAME: Frame = frame(COB.sync, EMPTY)

/** @param node 1..127, or 0 for all */
export function nmtFrame(command: NmtCommand, node: number): Frame {
  return frame(COB.nmt, Uint8Array.of(NMT[command], node))
}

export function nmtCommand(byte: number): NmtCommand | undefined {
  return (Object.keys(NMT) as NmtCommand[]).find((c) => NMT[c] === byte)
}

export function heartbeatFrame(node: number, state: Exclude<NodeState, 'unknown'>): Frame {
  return frame(COB.heartbeat + node, Uint8Array.of(NODE_STATE[state]))
}

/** Code of the state in a heartbeat byte; bit 7 is masked (it toggles in the older guarding protocol). */
export function nodeStateCode(byte: number): number {
  return byte & 0x7f
}

/** State in a heartbeat byte. */
export function nodeState(byte: number): NodeState {
  const value = nodeStateCode(byte)
  const found = (Object.keys(NODE_STATE) as (keyof typeof NODE_STATE)[]).find((s) => NODE_STATE[s] === value)
  return found ?? 'unknown'
}

export interface Emergency {
  readonly code: number
  readonly register: number
  readonly maker: Uint8Array
}

export function emergencyFrame(node: number, code: number, register: number): Frame {
  return frame(COB.emergency + node, Uint8Array.of(code & 0xff, code >> 8, register, 0, 0, 0, 0, 0))
}

/** Undefined when the frame is too short to be an emergency message. */
export function readEmergency(data: Uint8Array): Emergency | undefined {
  if (data.length < 3) return undefined
  return { code: data[0]! | (data[1]! << 8), register: data[2]!, maker: data.subarray(3) }
}

/** Value of 1016h: the node to listen to and the time (ms) after which its silence counts. */
export function consumerHeartbeat(node: number, ms: number): number {
  return ((node & 0xff) << 16) | (ms & 0xffff)
}

export function readConsumerHeartbeat(value: number): { node: number; ms: number } {
  return { node: (value >>> 16) & 0xff, ms: value & 0xffff }
}
