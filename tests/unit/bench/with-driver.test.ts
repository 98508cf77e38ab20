import { describe, expect, it } from 'vitest'
import { withDriver } from '../../../src/bench/with-driver.js'
import { loadRig } from '../../../src/files/load.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { driverOwned } from '../../setup/driver-beside.js'
import { DEMO_RIG } from '../../setup/runs.js'

describe('the driver that a rig names', () => {
  it('cannot own buses that lie within the harness: nothing is started, and what to do is said', async () => {
    const rig = loadRig(driverOwned(DEMO_RIG), 'rig.yaml', watchSchemas)
    let played = false
    const play = async (): Promise<void> => {
      played = true
    }
    await expect(withDriver({ rig, rigFile: 'rig.yaml' }, play)).rejects.toThrow(
      /port-can is a mock bus within this process.*--driver-bus/,
    )
    expect(played).toBe(false)
  })
})
