/**
 * What people have confirmed of a rig's real arms, and what of it still counts: each joint's direction, unit and zero, the
 * hard-wired stop that took every drive's power, and each bus's plug that was pulled. A confirmation is for one state of the
 * rig file, and it expires. So does the overall stopping time that a person has measured of the hard-wired stop and entered.
 * The fold here is pure: what was confirmed, the state of the rig now and the time now come in, what is lacking goes out in
 * words.
 */
import { createHash } from 'node:crypto'
import type { Rig } from '../files/rig.js'

/**
 * joint: direction, unit and zero of a joint. stop: the hard-wired stop. unplug: a bus without its host. stopping-time: what
 * an instrument read of the hard-wired stop; arms may move without it.
 */
export type ConfirmedThing = 'joint' | 'stop' | 'unplug' | 'stopping-time'

/** Simulated here, by a stand-in that has proven to be one, or real: what nothing shows to be simulated. */
export type ArmsKind = 'simulated' | 'stand-in' | 'real'

export interface Confirmation {
  readonly what: ConfirmedThing
  /** Name of the joint or of the bus; empty for the hard-wired stop and its time. */
  readonly place: string
  /** ISO 8601, UTC */
  readonly at: string
  /** The person, as typed. */
  readonly by: string
  /** Of the rig's state, see `rigHash`. */
  readonly rig: string
  /** What the arms were: but for real ones a rehearsal, which never counts. */
  readonly arms: ArmsKind
  /** Of a joint: who its drive said that it was (`showDrive`); null: its protocol has no such thing. */
  readonly drive: string | null
  /**
   * s. stopping-time: the overall stopping time. stop: how long, from the first sign on the bus, a joint was seen to go on; less
   * than any stopping time, as the press is not seen. Null: none.
   */
  readonly time: number | null
  /** What was measured and answered, in words. */
  readonly found: string
}

/** SHA-256 over the rig file with every default written out: any change of it asks for new confirmations. */
export function rigHash(resolvedText: string): string {
  return createHash('sha256').update(resolvedText).digest('hex')
}

/** All that must be confirmed before these arms may move. */
export function toConfirm(rig: Pick<Rig, 'joints' | 'buses'>): Pick<Confirmation, 'what' | 'place'>[] {
  return [
    ...rig.joints.map(({ name }) => ({ what: 'joint' as const, place: name })),
    { what: 'stop' as const, place: '' },
    ...rig.buses.map(({ name }) => ({ what: 'unplug' as const, place: name })),
  ]
}

/**
 * @param hash of the rig as it is now
 * @param ageOf s since the time of a confirmation
 * @returns one sentence for each thing that no confirmation covers; empty: the arms may move
 */
export function lacking(
  rig: Pick<Rig, 'joints' | 'buses' | 'motion'>,
  confirmations: readonly Confirmation[],
  hash: string,
  ageOf: (at: string) => number,
): string[] {
  return toConfirm(rig).flatMap((thing) => lackOf(rig, confirmations, thing, hash, ageOf) ?? [])
}

/** Of one thing; null: it is confirmed. Parameters as those of `lacking`. */
export function lackOf(
  { motion }: Pick<Rig, 'motion'>,
  confirmations: readonly Confirmation[],
  { what, place }: Pick<Confirmation, 'what' | 'place'>,
  hash: string,
  ageOf: (at: string) => number,
): string | null {
  const last = newestReal(confirmations, what, place)
  if (last === undefined) {
    const rehearsed = confirmations.some((c) => c.what === what && c.place === place)
    return `${named(what, place)} never ${GIVEN[what]}${rehearsed ? ', only rehearsed on simulated arms' : ''}`
  }
  const told = `${named(what, place)} ${GIVEN[what]} by ${last.by} on ${last.at.slice(0, 10)}`
  if (last.rig !== hash) return `${told}, but for another state of the rig file`
  const age = ageOf(last.at)
  // A time that cannot be read, or lies ahead, is as good as none.
  if (!(age >= -CLOCKS_DIFFER)) return `${told}, which lies in the future`
  if (age <= motion.confirmedFor) return null
  return `${told}, which has expired (motion.confirmed-for: ${Math.floor(motion.confirmedFor / DAY)} d)`
}

/** What a person has confirmed last of real arms; undefined: nothing. */
export function newestReal(
  confirmations: readonly Confirmation[],
  what: ConfirmedThing,
  place: string,
): Confirmation | undefined {
  return confirmations.findLast((c) => c.what === what && c.place === place && c.arms === 'real')
}

const GIVEN: Readonly<Record<ConfirmedThing, string>> = {
  joint: 'confirmed',
  stop: 'confirmed',
  unplug: 'confirmed',
  'stopping-time': 'entered',
}

const DAY = 86_400
/** s by which the clocks of two computers that share a rig may differ */
const CLOCKS_DIFFER = 300

function named(what: ConfirmedThing, place: string): string {
  if (what === 'joint') return `${place}: direction, unit and zero were`
  if (what === 'stopping-time') return 'an overall stopping time of the hard-wired stop was'
  return what === 'stop' ? 'the hard-wired stop was' : `${place}: the unplug test was`
}

/**
 * Of each joint, the drive that the newest confirmation of real arms is for; null: any.
 * @param hash of the rig as it is now
 */
export function confirmedDrives(
  { joints }: Pick<Rig, 'joints'>,
  confirmations: readonly Confirmation[],
  hash: string,
): (string | null)[] {
  return joints.map(({ name }) => {
    const last = newestReal(confirmations, 'joint', name)
    return last?.rig === hash ? last.drive : null
  })
}

/** The newest of each thing stay, simulated and real apart: a rehearsal does not take a confirmation away. */
export function withConfirmations(
  old: readonly Confirmation[],
  added: readonly Confirmation[],
): Confirmation[] {
  const key = (c: Confirmation): string => `${c.what} ${c.place} ${c.arms}`
  const newer = new Set(added.map(key))
  return [...old.filter((c) => !newer.has(key(c))), ...added]
}
