/**
 * Simulated arms that are not quite what the rig says: all that stands in its section `simulation` by up to a fifth off, drawn from
 * the seed. The watches are given the rig as it is written.
 *
 * The position loop of each joint is drawn for itself, and so are what its encoder adds, the delay and the jitter of its answers, and
 * where it stands at power-on; afloat also the friction of its train. Dry, the friction of the simulated joint is an invented part of
 * its torque limit and no setting: it stays.
 */
import { MockBus, type MockPort } from '../../src/bus/mock.js'
import { MockFaults } from '../../src/bus/mock-faults.js'
import type { Scheduler } from '../../src/clock.js'
import type { Joint, PlantKind, Rig, SimulationSettings } from '../../src/files/rig.js'
import { Afloat } from '../../src/plant/afloat.js'
import type { Plant } from '../../src/plant/contract.js'
import { createPlant } from '../../src/plant/plant.js'
import { randomStream } from '../../src/random.js'

/** How far off anything may be, as a share. */
export const TOLERANCE = 0.2
/** rad, by how much a joint may stand elsewhere at power-on. */
const START = (2 * Math.PI) / 180

export interface SimulatedArms {
  readonly mocks: readonly MockBus[]
  /** The bench's own places on them. */
  readonly buses: readonly MockPort[]
  readonly plant: Plant
  readonly busFaults: MockFaults
}

/** What one joint's simulation is, drawn. @param index of the joint: nobody else's draws change when one is left out */
export function drawn(simulation: SimulationSettings, joint: Joint, seed: number): SimulationSettings {
  const random = randomStream(seed, `tolerances ${joint.name}`)
  const about = (value: number): number => value * (1 + TOLERANCE * (2 * random.uniform() - 1))
  const { servo, feedback, joints } = simulation
  const start = joints[joint.index]!.start + START * (2 * random.uniform() - 1)
  return {
    ...simulation,
    servo: {
      frequency: about(servo.frequency),
      damping: about(servo.damping),
      feedforward: Math.min(1, about(servo.feedforward)),
    },
    feedback: {
      delay: about(feedback.delay),
      jitter: about(feedback.jitter),
      noise: about(feedback.noise),
    },
    sag: about(simulation.sag),
    joints: joints.map((j, i) => (i === joint.index ? { ...j, start } : j)),
  }
}

/** The joint with its train's friction drawn. */
function rubbing(joint: Joint, seed: number): Joint {
  const random = randomStream(seed, `friction ${joint.name}`)
  const factor = 1 + TOLERANCE * (2 * random.uniform() - 1)
  const { viscous, coulomb } = joint.train
  const [forwards, backwards] = coulomb
  return {
    ...joint,
    train: {
      ...joint.train,
      viscous: factor * viscous,
      coulomb: [factor * forwards, factor * backwards],
    },
  }
}

/** Mock buses and arms whose tolerances are drawn. */
export function drawnArms(rig: Rig, scheduler: Scheduler, seed: number, kind: PlantKind): SimulatedArms {
  const mocks = rig.buses.map(({ name, bitrate }) => new MockBus(scheduler, { name, bitrate }))
  const buses = rig.buses.map(({ queue }, i) => mocks[i]!.attach('bench', { order: 'handed over', queue }))
  const afloat =
    kind === 'afloat' ? new Afloat({ ...rig, joints: rig.joints.map((j) => rubbing(j, seed)) }) : null
  const plant = createPlant(
    { ...rig, simulationOf: (joint) => drawn(rig.simulation, joint, seed) },
    scheduler,
    (bus, name) => mocks[bus]!.attach(name, { order: 'by identifier' }),
    seed,
    afloat,
  )
  return { mocks, buses, plant, busFaults: new MockFaults(rig, scheduler, mocks, buses, seed) }
}
