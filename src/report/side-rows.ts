/** Each side at its own limit: the figures that terminal and page show in their tables. */
import type { Item, SideLimit } from '../motion/envelope.js'
import { cut } from './envelope-words.js'

/** Kinds of strain, one a column, with a head that fits a terminal. */
export const STRAINS: readonly (readonly [head: string, item: Item])[] = [
  ['speed', 'joint speed'],
  ['accel.', 'joint acceleration'],
  ['torque', 'torque'],
  ['lasting', 'lasting torque'],
  ['window', 'following window'],
]

export interface SideRow {
  /** m/s */
  readonly speed: string
  /** Strokes a minute; null: it makes none */
  readonly cadence: string | null
  /** In the order of `STRAINS`, per cent of the limit and the joint within its arm; null: not looked at, or no limit is stated */
  readonly strains: readonly (readonly [share: string, joint: string] | null)[]
}

export function sideRow({ speed, cadence, strains }: SideLimit): SideRow {
  return {
    speed: speed === Number.POSITIVE_INFINITY ? 'no limit' : cut(speed, 3),
    cadence: cadence === 0 ? null : (60 * cadence).toFixed(1),
    strains: STRAINS.map(([, item]) => {
      const strain = strains.find((s) => s.item === item)
      return strain === undefined
        ? null
        : [`${Math.round(100 * strain.share)} %`, strain.joint.slice(strain.joint.indexOf('.') + 1)]
    }),
  }
}

/** What is added to a table's title where some of its rows are afloat. */
export function startTold(sides: readonly SideLimit[]): string {
  return sides.some(({ afloat }) => afloat) ? '; afloat from a standing start' : ''
}
