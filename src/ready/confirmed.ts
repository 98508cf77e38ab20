/**
 * What people have confirmed of a rig's real arms, and what of it still counts: each joint's direction, unit and zero, the
 * hard-wired stop that took every drive's power, and each bus's plug that was pulled. A confirmation is for one state of the
 * rig file, and it expires. The fold here is pure: what was confirmed, the state of the rig now and the time now come in,
 * what is lacking goes out in words.
 */
import { createHash } from 'node:crypto'
import type { Rig } from '../files/rig.js'

/** joint: direction, unit and zero of a joint. stop: the hard-wired stop. unplug: a bus without its host. */
export type ConfirmedThing = 'joint' | 'stop' | 'unplug'

/** Simulated here, by a stand-in that has proven to be one, or real: what nothing shows to be simulated. */
export type ArmsKind = 'simulated' | 'stand-in' | 'real'

export interface Confirmation {
  readonly what: ConfirmedThing
  /** Name of the joint or of the bus; empty for the hard-wired stop. */
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
  return toConfirm(rig).flatMap(({ what, place }) => {
    const real = confirmations.filter((c) => c.what === what && c.place === place && c.arms === 'real')
    const last = real.at(-1)
    if (last === undefined) {
      const rehearsed = confirmations.some((c) => c.what === what && c.place === place)
      return [`${named(what, place)} never confirmed${rehearsed ? ', only rehearsed on simulated arms' : ''}`]
    }
    const told = `confirmed by ${last.by} on ${last.at.slice(0, 10)}`
    if (last.rig !== hash) return [`${named(what, place)} ${told}, but for another state of the rig file`]
    const age = ageOf(last.at)
    // A time that cannot be read, or lies ahead, is as good as none.
    if (!(age >= -CLOCKS_DIFFER)) return [`${named(what, place)} ${told}, which lies in the future`]
    if (age <= rig.motion.confirmedFor) return []
    const days = Math.floor(rig.motion.confirmedFor / DAY)
    return [`${named(what, place)} ${told}, which has expired (motion.confirmed-for: ${days} d)`]
  })
}

const DAY = 86_400
/** s by which the clocks of two computers that share a rig may differ */
const CLOCKS_DIFFER = 300

function named(what: ConfirmedThing, place: string): string {
  if (what === 'joint') return `${place}: direction, unit and zero were`
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
    const last = confirmations.findLast((c) => c.what === 'joint' && c.place === name && c.arms === 'real')
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
