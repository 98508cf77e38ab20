/** A number and its unit on one line, with a space between them: SI brochure, 9th ed. (2019), 5.4.3 (from memory). */
import { expect, it } from 'vitest'
import { phrase } from '../../../src/report/page/phrase.js'
import { unitNames, unitsOf } from '../../../src/units.js'

/** Where a line may break. */
const parts = (text: string): string[] => text.split(' ')

it.each([
  ['limit 8 N m', ['limit', '8\u00a0N\u00a0m']],
  ['324 deg/s (limit 360 deg/s)', ['324\u00a0deg/s', '(limit', '360\u00a0deg/s)']],
  ['margin -0.24 N m.', ['margin', '-0.24\u00a0N\u00a0m.']],
  ['beyond 90 % of it', ['beyond', '90\u00a0%', 'of', 'it']],
  ['17.3 W h/km, 22.2 km', ['17.3\u00a0W\u00a0h/km,', '22.2\u00a0km']],
  ['1e-7 m2/s, 5 N s2/m2', ['1e-7\u00a0m2/s,', '5\u00a0N\u00a0s2/m2']],
  ['19.7 1/min ahead', ['19.7\u00a01/min', 'ahead']],
  ['at phase 0.903 of it', ['at', 'phase\u00a00.903', 'of', 'it']],
])('%s', (text, expected) => {
  expect(parts(phrase(text))).toEqual(expected)
})

it('holds together every unit that a file may state', () => {
  for (const name of [...unitNames(), ...unitsOf('torque'), ...unitsOf('inertia')])
    expect(parts(phrase(`of 5 ${name} and`)), name).toHaveLength(3)
})

it('leaves words alone that only begin as a unit does, numbers in names, and what it has escaped', () => {
  for (const text of ['2 messages', '1 of 3 arms', '3 moves', '2 m/sec', 'joint 3 is', 'port2 m'])
    expect(phrase(text)).toBe(text)
  expect(phrase("<b> it's 5 s")).toBe('&lt;b&gt; it&#39;s 5\u00a0s')
})
