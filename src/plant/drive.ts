/**
 * The drive state machine of CiA 402 (IEC 61800-7-201) as a pure fold: (status, input, settings) to the next
 * status. Timers, motion and messages are outside.
 *
 * Not modelled: option codes 605Bh and 605Ch (shutdown and disable operation take the power away at once),
 * the slow-down ramp 6084h (option 1 uses the quick stop ramp 6085h), modes other than cyclic synchronous
 * position, halt, the time that power stage and brake need.
 */
import { MODE_CSP } from '../wire/cia402/objects.js'
import { driveCommand } from '../wire/cia402/state.js'
import type { DriveState } from '../wire/observation.js'

/**
 * What the motor does. `ramp`: slows at 6085h. `limit`: slows as hard as the torque limit allows. `hold`:
 * stands powered.
 */
type DriveMotion = 'free' | 'follow' | 'ramp' | 'limit' | 'hold'

export interface DriveStatus {
  readonly state: DriveState
  readonly motion: DriveMotion
  /** The controlword before, for the rising edge of bit 7. */
  readonly controlword: number
}

export type DriveInput =
  | { kind: 'self-test passed' }
  | { kind: 'controlword'; word: number }
  /** A ramp has ended. */
  | { kind: 'standstill' }
  | { kind: 'fault' }
  /** The link to the host is lost; 6007h says what to do. */
  | { kind: 'link lost' }

export interface DriveSettings {
  /** 6060h */
  readonly mode: number
  /**
   * 605Ah: 0 power off; 1, 2 ramp; 3, 4 torque limit; 5-8 the same as 1-4, but staying in quick stop active
   */
  readonly quickStop: number
  /** 605Eh: 0 power off; 1, 2 ramp; 3, 4 torque limit */
  readonly faultReaction: number
  /** 6007h: 0 nothing, 1 fault, 2 disable voltage, 3 quick stop */
  readonly linkLost: number
}

export const AT_POWER_ON: DriveStatus = { state: 'not ready to switch on', motion: 'free', controlword: 0 }

/** The next status, or the same object when the input changes nothing. */
export function driveStep(status: DriveStatus, input: DriveInput, settings: DriveSettings): DriveStatus {
  switch (input.kind) {
    case 'self-test passed':
      return status.state === 'not ready to switch on' ? to(status, 'switch on disabled') : status
    case 'controlword':
      return controlled(status, input.word, settings)
    case 'standstill':
      if (status.state === 'fault reaction active') return to(status, 'fault')
      if (status.state !== 'quick stop active') return status
      return settings.quickStop < 5
        ? to(status, 'switch on disabled')
        : to(status, 'quick stop active', 'hold')
    case 'fault':
      return faulted(status, settings)
    case 'link lost':
      if (settings.linkLost === 1) return faulted(status, settings)
      if (settings.linkLost === 2) return disabled(status)
      return settings.linkLost === 3 ? quickStopped(status, settings) : status
  }
}

function to(status: DriveStatus, state: DriveState, motion: DriveMotion = 'free'): DriveStatus {
  return { ...status, state, motion }
}

function controlled(before: DriveStatus, word: number, settings: DriveSettings): DriveStatus {
  const rising = (word & ~before.controlword & 0x80) !== 0
  const status = word === before.controlword ? before : { ...before, controlword: word }
  const { state } = status
  switch (driveCommand(word)) {
    case 'fault reset':
      return rising && state === 'fault' ? to(status, 'switch on disabled') : status
    case 'disable voltage':
      return disabled(status)
    case 'quick stop':
      return quickStopped(status, settings)
    case 'shutdown':
      return state === 'switch on disabled' || state === 'switched on' || state === 'operation enabled'
        ? to(status, 'ready to switch on')
        : status
    case 'switch on':
      return state === 'ready to switch on' || state === 'operation enabled'
        ? to(status, 'switched on')
        : status
    case 'enable operation':
      return enabled(status, settings)
    case undefined:
      return status
  }
}

function enabled(status: DriveStatus, settings: DriveSettings): DriveStatus {
  const { state } = status
  // Transition 16, back from quick stop active, exists only with the options that stay there.
  const resumes = state === 'quick stop active' && settings.quickStop >= 5
  if (state !== 'ready to switch on' && state !== 'switched on' && !resumes) return status
  if (settings.mode === MODE_CSP) return to(status, 'operation enabled', 'follow')
  // From ready to switch on the same word also means switch on.
  return state === 'ready to switch on' ? to(status, 'switched on') : status
}

function disabled(status: DriveStatus): DriveStatus {
  return isOn(status.state) ? to(status, 'switch on disabled') : status
}

function quickStopped(status: DriveStatus, settings: DriveSettings): DriveStatus {
  const { state } = status
  if (state === 'ready to switch on' || state === 'switched on') return to(status, 'switch on disabled')
  if (state !== 'operation enabled') return status
  const motion = slowing(settings.quickStop > 4 ? settings.quickStop - 4 : settings.quickStop)
  return motion === 'free' ? to(status, 'switch on disabled') : to(status, 'quick stop active', motion)
}

function faulted(status: DriveStatus, settings: DriveSettings): DriveStatus {
  const { state } = status
  if (state === 'fault' || state === 'fault reaction active') return status
  const moving = state === 'operation enabled' || state === 'quick stop active'
  const motion = moving ? slowing(settings.faultReaction) : 'free'
  return motion === 'free' ? to(status, 'fault') : to(status, 'fault reaction active', motion)
}

function slowing(option: number): DriveMotion {
  return option <= 0 ? 'free' : option <= 2 ? 'ramp' : 'limit'
}

function isOn(state: DriveState): boolean {
  return (
    state === 'ready to switch on' ||
    state === 'switched on' ||
    state === 'operation enabled' ||
    state === 'quick stop active'
  )
}
