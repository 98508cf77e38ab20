/** `drystroke stand-in`: serves the simulated arms of a rig on real buses until it is interrupted. */
import { createInterface } from 'node:readline'
import { askForFifo } from '../../bench/realtime/scheduling.js'
import { settle, warmUp } from '../../bench/realtime/warm-up.js'
import type { Bus } from '../../bus/contract.js'
import { RealTime } from '../../clock.js'
import { DrystrokeError, EXIT, type ExitStatus } from '../../errors.js'
import { showBusAddress } from '../../files/bus-address.js'
import type { BusSettings } from '../../files/rig.js'
import type { Scenario } from '../../files/scenario.js'
import { openArmsSide } from '../../stand-in/arms-side.js'
import { JoinedEnds } from '../../stand-in/joined-ends.js'
import { type OrderSocket, serveOrders, standInName } from '../../stand-in/order-socket.js'
import { parseOrder } from '../../stand-in/orders.js'
import { standInLines } from '../../stand-in/screen.js'
import { StandIn } from '../../stand-in/serve.js'
import { readRig } from '../inputs.js'
import { canRewrite, columnsOf } from '../screen.js'

export interface StandInArguments {
  readonly rig: string | undefined
  readonly bus: readonly string[]
  /** `NAME=ADDRESS`: where buses are served once more, for a driver that owns them. */
  readonly driverBus: readonly string[]
  readonly seed: number
  /** Path of a Unix socket that takes orders as well, or undefined. */
  readonly orders: string | undefined
  readonly json: boolean
}

const ORDERS = 'Orders: fault KIND JOINT|ARM [AMOUNT], end KIND JOINT|ARM, anew, list. Ctrl-C ends it.'
const STAND_IN_PRIORITY = 40
/** Arms that move, for the code of the simulation to be compiled before anybody waits for it. */
const WARM_UP: Scenario = {
  name: 'warm-up',
  about: '',
  duration: 60,
  plant: 'dry',
  commands: [{ at: 0, surge: 0.1, yaw: 0, over: 1 }],
  faults: [],
  operator: [],
  expect: { outcome: 'finish', strokes: [], parked: false },
}
/** ns between two looks of the screen */
const REFRESH = 0.5e9

/**
 * With `--json` each line is an object with `t` (ns, CLOCK_MONOTONIC of the machine, as text) and `what`: `serving` with the
 * addresses; `moves` and `rests` with the joint, `since` (ns, same clock, as text) and `at` (rad), by the arms' own truth:
 * `rests` comes only once the joint has been still for the rig's hold time; `powered` and `unpowered` with the joint and `since`
 * (of the look that found it, one a control period), whatever its drive says; `bus` with its state and, in `trouble`, what
 * was wrong, or null; `fault` with all that are on; `standstill` with `times` and `longest` (ns): this machine kept the arms from
 * moving for more than half a control period.
 * @throws DrystrokeError when a bus or the socket for orders cannot be opened: then nothing is served
 */
export async function standIn(args: StandInArguments): Promise<ExitStatus> {
  const { rig } = readRig(args.rig, args.bus)
  const seconds = secondEnds(args)
  warmUp(rig, { ...WARM_UP, plant: rig.simulation.plant }, args.seed)
  settle()
  const clock = new RealTime()
  const base = BigInt(clock.base[0]) * 1_000_000_000n + BigInt(clock.base[1])
  const monotonic = (t: number): string => String(base + BigInt(t))
  const shows = canRewrite(process.stdout) && !args.json
  const tell = (what: string, says: string, more: object = {}): void => {
    if (args.json) process.stdout.write(`${JSON.stringify({ t: monotonic(clock.now()), what, ...more })}\n`)
    else if (!shows && says !== '') process.stdout.write(`${says}\n`)
  }
  // Real arms are punctual: they do not wait for other programs of this machine. Below the harness, which stops them.
  askForFifo(STAND_IN_PRIORITY)
  const sides: Awaited<ReturnType<typeof openArmsSide>>[] = []
  try {
    for (const bus of [...rig.buses, ...seconds])
      sides.push(await openArmsSide(bus, clock, (says) => process.stderr.write(`${says}\n`)))
  } catch (error) {
    for (const side of sides) await side.close()
    throw error
  }
  const buses = rig.buses.map(({ name }, b): Bus => {
    const second = seconds.findIndex((bus) => bus.name === name)
    const { bus } = sides[b]!
    return second < 0 ? bus : new JoinedEnds([bus, sides[rig.buses.length + second]!.bus])
  })
  buses.forEach((bus, b) => {
    const { name } = rig.buses[b]!
    bus.onReport(({ state, trouble, says }) =>
      tell('bus', `${name}: ${says}`, { bus: name, state, trouble, says }),
    )
  })
  const arms = new StandIn({
    rig,
    clock,
    buses,
    seed: args.seed,
    onMotion: ({ joint, moving, since, at }) =>
      tell(moving ? 'moves' : 'rests', '', { joint: rig.joints[joint]!.name, since: monotonic(since), at }),
    onPower: (joint, on, t) =>
      tell(on ? 'powered' : 'unpowered', '', { joint: rig.joints[joint]!.name, since: monotonic(t) }),
    onStandstill: (times, longest) => {
      orderSocket?.tell({ what: 'standstill', times, longest })
      tell('standstill', '', { times, longest })
    },
  })
  let orderSocket: OrderSocket | null = null
  const obey = (line: string): void => {
    arms.order(parseOrder(line, rig))
    tell('fault', `faults: ${arms.faults.join(', ') || 'none'}`, { faults: arms.faults })
  }
  try {
    if (args.orders !== undefined) orderSocket = await serveOrders(args.orders, standInName(rig), obey)
  } catch (error) {
    arms.end()
    clock.stop()
    for (const side of sides) await side.close()
    throw error
  }
  const addresses = [...rig.buses, ...seconds].map((b) => showBusAddress(b.address))
  tell('serving', `Serving the simulated arms of ${rig.name} on ${addresses.join(' and ')}.\n${ORDERS}`, {
    buses: addresses,
  })
  const look = (): void => {
    const lines = standInLines(
      rig,
      arms,
      buses.map((bus) => bus.state),
      columnsOf(process.stdout),
    )
    process.stdout.write(`\x1b[H\x1b[J${lines.join('\n')}\n${ORDERS}\n> `)
    clock.at(clock.now() + REFRESH, look)
  }
  if (shows) look()
  const orders = createInterface({ input: process.stdin })
  orders.on('line', (line) => {
    if (line.trim() === '') return
    try {
      obey(line)
    } catch (error) {
      if (!(error instanceof DrystrokeError)) throw error
      process.stderr.write(`${error.message}\n`)
    }
  })
  await interrupted()
  orderSocket?.end()
  orders.close()
  process.stdin.unref?.()
  arms.end()
  clock.stop()
  for (const side of sides) await side.close()
  return EXIT.pass
}

/** Buses of the rig at the addresses that are served besides. */
function secondEnds({ rig, driverBus }: StandInArguments): BusSettings[] {
  if (driverBus.length === 0) return []
  const names = driverBus.map((given) => given.split('=')[0])
  const moved = readRig(rig, driverBus).rig.buses
  return moved.filter(({ name }) => moved.length === 1 || names.includes(name))
}

function interrupted(): Promise<void> {
  return new Promise((resolve) => {
    for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(signal, () => resolve())
  })
}
