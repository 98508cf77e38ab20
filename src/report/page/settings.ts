/** What the watches were set to: first what the rig sets otherwise than usual, then all the rest. */
import type { StatedSetting } from '../../files/stated-settings.js'
import { escaped } from '../markup.js'
import { section, table } from './table.js'

export function settings(all: readonly StatedSetting[]): string {
  const own = all.filter((s) => s.value !== s.usual)
  const others = all.filter((s) => s.value === s.usual)
  return section(
    'settings',
    'Settings of the watches',
    `<p>${lead(own.length)} Each can be set in the section <code>watch</code> of the rig.</p>\n` +
      (own.length === 0 ? '' : table('Set by this rig', OWN, own.map(ownRow), 'stack')) +
      `<details><summary>The ${others.length} that are as usual</summary>\n${table('Named as in the rig file', USUAL, others.map(usualRow), 'stack')}</details>\n`,
  )
}

const lead = (own: number): string =>
  own === 0 ? 'All are as usual.' : `${own === 1 ? 'One is' : `${own} are`} set otherwise than usual.`

const OWN = [
  { title: 'Setting', look: 'nowrap' },
  { title: 'Value', look: 'nowrap' },
  { title: 'Usual', look: 'nowrap' },
  { title: 'What it is' },
]
const USUAL = OWN.filter(({ title }) => title !== 'Usual')

const ownRow = ({ name, value, usual, about }: StatedSetting): string[] =>
  [name, value ?? 'none', usual ?? 'none', about].map(escaped)
const usualRow = ({ name, value, about }: StatedSetting): string[] =>
  [name, value ?? 'none', about].map(escaped)
