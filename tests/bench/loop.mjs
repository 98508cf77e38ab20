/** Our loop with nothing in its ticks but its tidying: one lateness in nanoseconds a line.  node --expose-gc loop.mjs RATE SECONDS */
import { tidier } from '../../dist/bench/realtime/tidy.js'
import { RealTime } from '../../dist/clock.js'

const [rate, seconds] = process.argv.slice(2).map(Number)
const period = Math.round(1e9 / rate)
const count = rate * seconds
const late = new Float64Array(count)
const time = new RealTime()
const tidy = tidier(1 / rate)
const base = time.now() + 5e7
let k = 0
const tick = () => {
  late[k] = time.now() - (base + k * period)
  tidy(k++)
  if (k < count) time.at(base + k * period, tick)
  else process.stdout.write(`${late.join('\n')}\n`)
}
time.at(base, tick)
