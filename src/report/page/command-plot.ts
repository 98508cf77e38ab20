/** What the scenario asked for: surge above, yaw rate below, over scenario time. */
import type { Scenario, TimedCommand } from '../../files/scenario.js'
import { fixed, LEFT, type Mark, marks, panel, picture, RIGHT, timeAxis, WIDTH } from './panel.js'
import { type Scale, scale, withAir } from './scale.js'

const DEGREES = 180 / Math.PI
const TOP = 18
const MIDDLE = 80
const LOW_TOP = 94
const BOTTOM = 156
const HEIGHT = 176

/** @param happenings faults, operator actions and the stop, with times from scenario zero (ns) */
export function commandFigure(scenario: Scenario, happenings: readonly Mark[]): string {
  const time = scale(0, scenario.duration, LEFT, WIDTH - RIGHT, 5)
  const surge = corners(scenario, (c) => c.surge)
  const yaw = corners(scenario, (c) => c.yaw * DEGREES)
  const high = scaleOf(surge, TOP, MIDDLE, 0.2)
  const low = scaleOf(yaw, LOW_TOP, BOTTOM, 2)
  const body = [
    panel(high, TOP, MIDDLE),
    panel(low, LOW_TOP, BOTTOM),
    line(surge, time, high),
    line(yaw, time, low),
    marks(happenings, (t) => time.place(t / 1e9), TOP, BOTTOM),
    timeAxis(time, BOTTOM),
  ].join('')
  return (
    `<figure><figcaption>Command<span>surge, m/s (ahead +) above; yaw rate, deg/s (to port +) below</span></figcaption>` +
    `${picture('command', HEIGHT, 'Commanded surge and yaw rate', 'The values are in the table of the script.', body)}</figure>\n`
  )
}

type Corner = readonly [t: number, value: number]

function corners(scenario: Scenario, value: (c: TimedCommand) => number): Corner[] {
  const all: Corner[] = [[0, 0]]
  let now = 0
  for (const c of scenario.commands) {
    all.push([c.at, now], [c.at + c.over, value(c)])
    now = value(c)
  }
  all.push([scenario.duration, now])
  return all
}

function scaleOf(all: readonly Corner[], top: number, bottom: number, least: number): Scale {
  const values = all.map(([, v]) => v)
  const [from, to] = withAir(Math.min(...values), Math.max(...values), least)
  return scale(from, to, bottom, top, 3)
}

function line(all: readonly Corner[], time: Scale, y: Scale): string {
  const points = all.map(([t, v]) => `${fixed(time.place(Math.min(t, time.to)))},${fixed(y.place(v))}`)
  return `<polyline class="line" points="${points.join(' ')}"/>`
}
