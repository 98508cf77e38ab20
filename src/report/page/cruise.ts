/** A cruise on the page: what to expect, where the power goes as a picture, and what the figures rest on. */
import type { Cruise } from '../../motion/cruise.js'
import { cruiseFacts, cruiseOutcome, cruiseTitle, powerParts } from '../cruise-words.js'
import { phrase } from './phrase.js'
import { list, section } from './table.js'

export const CRUISE_LOOK = `
.cruise { display: grid; grid-template-columns: minmax(8rem, max-content) minmax(0, 1fr); gap: .35rem 1.2rem; margin: .5rem 0 1rem; }
.cruise dd { font-weight: 400; }
.power { max-width: 38rem; margin: .2rem 0 1rem; } .power > svg { display: block; width: 100%; height: auto; }
svg .part0 { fill: var(--setpoint); } svg .part1 { fill: var(--feedback); } svg .part2 { fill: var(--good); } svg .part3 { fill: none; stroke: var(--soft); stroke-dasharray: 4 3; }
svg .cruise-mark { fill: var(--sheet); stroke: var(--ink); stroke-width: 2.2; }
@media screen and (max-width: 46rem) { .cruise { grid-template-columns: 1fr; gap: 0; } .cruise dd { margin-bottom: .5rem; } }
`

const WIDTH = 620
const BAR = 22

export function cruiseSection(cruise: Cruise): string {
  const { share } = cruise.placed
  const facts = cruiseFacts(cruise)
    .map(([name, value]) => `<dt>${phrase(name)}</dt><dd>${phrase(value)}</dd>`)
    .join('')
  const body =
    `<p class="${share <= 1 ? 'soft' : 'bad'}">${phrase(cruiseOutcome(cruise))}</p>\n` +
    `<dl class="cruise">${facts}</dl>\n${powerBar(cruise)}<h3>What these figures rest on</h3>\n${list(cruise.assumptions)}`
  return section('cruise', cruiseTitle(cruise), body)
}

/** The driving power as one bar; its parts have their names below them in words, so that colour alone says nothing. */
function powerBar(cruise: Cruise): string {
  const parts = powerParts(cruise)
  const all = parts.reduce((sum, { power }) => sum + power, 0)
  let from = 0
  const bars = parts.map(({ name, power }, i) => {
    const width = (power / all) * WIDTH
    const bar = `<rect class="part${i}" x="${(from + 0.5).toFixed(1)}" y="1" width="${Math.max(0, width - 1).toFixed(1)}" height="${BAR}"><title>${phrase(name)}</title></rect>`
    from += width
    return bar
  })
  const key = parts.map(
    ({ name, power }, i) =>
      `<li><svg viewBox="0 0 22 9" aria-hidden="true"><rect class="part${i}" x="1" y="1" width="20" height="7"/></svg>${phrase(`${name} ${Math.round((100 * power) / all)} %`)}</li>`,
  )
  return (
    `<figure class="power"><figcaption>Where the driving power goes</figcaption>` +
    `<svg viewBox="0 0 ${WIDTH} ${BAR + 2}" role="img" aria-label="Parts of the driving power; the key below has their shares">${bars.join('')}</svg>` +
    `<ul class="key">${key.join('')}</ul></figure>\n`
  )
}
