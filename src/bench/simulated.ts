/** The simulated arms of a rig on mock buses, and the bench's own places on these. */

import { MockBus, type MockPort } from '../bus/mock.js'
import { MockFaults } from '../bus/mock-faults.js'
import type { Scheduler } from '../clock.js'
import type { PlantKind, Rig } from '../files/rig.js'
import { Afloat } from '../plant/afloat.js'
import type { Plant } from '../plant/contract.js'
import { createPlant } from '../plant/plant.js'

export function simulatedArms(
  rig: Rig,
  scheduler: Scheduler,
  seed: number,
  plantKind: PlantKind,
): { readonly buses: readonly MockPort[]; readonly plant: Plant; readonly busFaults: MockFaults } {
  const mocks = rig.buses.map(({ name, bitrate }) => new MockBus(scheduler, { name, bitrate }))
  const plant = createPlant(
    rig,
    scheduler,
    (bus, name) => mocks[bus]!.attach(name, { order: 'by identifier' }),
    seed,
    plantKind === 'afloat' ? new Afloat(rig) : null,
  )
  const buses = rig.buses.map(({ queue }, i) => mocks[i]!.attach('bench', { order: 'handed over', queue }))
  return { buses, plant, busFaults: new MockFaults(rig, scheduler, mocks, buses, seed) }
}
