/** A guardian that does not come to be. Here its program does not: sources are not compiled where this test looks for it. */
import { expect, test } from 'vitest'
import { loadRig } from '../../../../src/files/load.js'
import { startGuardian } from '../../../../src/stop/guardian/start.js'
import { watchSchemas } from '../../../../src/watch/settings.js'
import { DEMO_RIG } from '../../../setup/runs.js'

test('that ends at once is told of by how it ended, not by what became of its line', async () => {
  const started = startGuardian({
    rig: loadRig(DEMO_RIG, 'rig.yaml', watchSchemas),
    buses: [],
    clock: { now: () => 0, base: [0, 0] },
    folder: null,
    onStopAsked: () => {},
    onLost: () => {},
  })
  await expect(started).rejects.toThrow('The guardian could not be started: it ended (status 1)')
})
