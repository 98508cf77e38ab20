/** Every fault that a scenario can bring about, by its name. A new one is an entry of one of these families, and its behaviour. */
import type { Rig } from '../rig.js'
import { ARM_FAULTS } from './arm.js'
import { BUS_FAULTS } from './bus.js'
import { CLOCK_FAULTS } from './clock.js'
import { DRIVE_FAULTS } from './drive.js'
import { DRIVER_FAULTS } from './driver.js'
import { ENCODER_FAULTS } from './encoder.js'
import type { FaultKind, FaultTarget } from './kind.js'
import { LINE_FAULTS } from './line.js'
import { MECHANICS_FAULTS } from './mechanics.js'

const JOINT_FAULTS = { ...LINE_FAULTS, ...ENCODER_FAULTS, ...MECHANICS_FAULTS, ...DRIVE_FAULTS }

export type JointFaultName = keyof typeof JOINT_FAULTS
export type ArmFaultName = keyof typeof ARM_FAULTS
export type BusFaultName = keyof typeof BUS_FAULTS
export type DriverFaultName = keyof typeof DRIVER_FAULTS
export type ClockFaultName = keyof typeof CLOCK_FAULTS
export type FaultName = JointFaultName | ArmFaultName | BusFaultName | DriverFaultName | ClockFaultName

export const FAULTS: Readonly<Record<FaultName, FaultKind>> = {
  ...JOINT_FAULTS,
  ...ARM_FAULTS,
  ...BUS_FAULTS,
  ...DRIVER_FAULTS,
  ...CLOCK_FAULTS,
}

export const FAULT_NAMES = Object.keys(FAULTS) as readonly FaultName[]

export function isFaultName(word: unknown): word is FaultName {
  return (FAULT_NAMES as readonly unknown[]).includes(word)
}

/** Names of the faults of one target, in the order of the catalogue. */
export function faultsOf(target: FaultTarget): FaultName[] {
  return FAULT_NAMES.filter((name) => FAULTS[name].target === target)
}

/** A fault, its place resolved. */
export interface Fault {
  readonly fault: FaultName
  /** Index of the joint, arm or bus that it is at, by its target; 0 for the driver and the clock. */
  readonly place: number
  /** Index of the other joint, for a pair; -1: none. */
  readonly other: number
  /** SI, or a whole number; 0 where the fault has none. */
  readonly amount: number
}

/** Whoever can be made to fail. */
export interface FaultTaker {
  /** Begins (`on`) or ends a fault now. */
  fault(fault: Fault, on: boolean): void
}

/** Name of the joint, arm or bus that a fault is at; empty for the driver and the clock. */
export function faultPlace(
  { fault, place }: Pick<Fault, 'fault' | 'place'>,
  { joints, arms, buses }: NamedPlaces,
): string {
  const { target } = FAULTS[fault]
  if (target === 'joint') return joints[place]!.name
  if (target === 'arm') return arms[place]!.name
  return target === 'bus' ? buses[place]!.name : ''
}

type NamedPlaces = {
  readonly [K in keyof Pick<Rig, 'joints' | 'arms' | 'buses'>]: readonly { readonly name: string }[]
}
