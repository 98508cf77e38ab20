/** Our loop with nothing in its ticks: one lateness in nanoseconds a line.  node loop.mjs RATE SECONDS */
import { RealTime } from '../../dist/clock.js'

const [rate, seconds] = process.argv.slice(2).map(Number)
const period = Math.round(1e9 / rate)
const count = rate * seconds
const late = new Float64Array(count)
const time = new RealTime()
const base = time.now() + 5e7
let k = 0
const tick = () => {
  late[k] = time.now() - (base + k * period)
  k++
  if (k < count) time.at(base + k * period, tick)
  else process.stdout.write(`${late.join('\n')}\n`)
}
time.at(base, tick)
