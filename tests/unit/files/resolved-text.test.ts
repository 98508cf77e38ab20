import { describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import { loadRig, loadScenario } from '../../../src/files/load.js'
import { resolvedRigText, resolvedScenarioText } from '../../../src/files/resolved-text.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { change, DEMO_RIG, SCENARIOS, scenarioText } from '../../setup/runs.js'

describe('text as resolved', () => {
  // A rig that leaves to the defaults what it can.
  const short = change(DEMO_RIG, /stroke:\n[\s\S]*?(?=arms:)/, '')

  it.each([
    ['demo rig', DEMO_RIG],
    ['rig with few words', short],
  ])('%s: the same rig, and the same text when resolved again', (_, text) => {
    const resolved = resolvedRigText(text, watchSchemas)
    expect(loadRig(resolved, 'resolved', watchSchemas)).toEqual(loadRig(text, 'given', watchSchemas))
    expect(resolvedRigText(resolved, watchSchemas)).toBe(resolved)
  })

  it('writes defaults out, watch settings too', () => {
    const resolved = parse(resolvedRigText(short, watchSchemas))
    expect(resolved.stroke.even).toBe('70 %')
    expect(resolved.stop.still).toEqual({ speed: '0.6 deg/s', hold: '100 ms' })
    expect(resolved.watch.tracking.window).toBe('1.5 deg')
    expect(resolved.watch.limits.acceleration.window).toBe(9)
  })

  it.each(SCENARIOS)('%s: the same scenario', (name) => {
    const rig = loadRig(DEMO_RIG, 'rig', watchSchemas)
    const resolved = resolvedScenarioText(scenarioText(name))
    expect(loadScenario(resolved, 'resolved', rig)).toEqual(loadScenario(scenarioText(name), 'given', rig))
  })
})
