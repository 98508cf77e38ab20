/** Where to look first, by what the last gate held back. */
import { expect, test } from 'vitest'
import { type Finding, GIVEN_TWICE } from '../../../src/files/event.js'
import { ReportedTroubles } from '../../../src/verdict/reported.js'

test.each([
  [GIVEN_TWICE, /gave no new setpoint for this period/],
  ['setpoint acceleration', /at its path there.*missed the period before/],
  ['setpoint speed', /at its path there, and at its own limits\.$/],
])('the last gate held a setpoint back: %s', (quantity, look) => {
  const found: Finding[] = []
  const reported = new ReportedTroubles((finding) => found.push(finding))
  reported.see({
    ...{ kind: 'gate', t: 5e6, place: 'port.swing', quantity },
    ...{ value: 30, limit: 26, unit: 'rad/s2' },
  })
  expect(found).toMatchObject([{ watch: 'gate', severity: 'failure', quantity, stop: null }])
  expect(found[0]!.look).toMatch(look)
})
