/**
 * Loaded into a stand-in before its own code (NODE_OPTIONS=--import): its arms can be made to be of the unkind sort. A drive that
 * gets no setpoint any more then runs on at the speed that it had, where the simulated ones hold the last setpoint: they would
 * come to rest whether they are stopped or not. SIGPWR makes them so, and when it comes again they are kind as before. SIGUSR2
 * makes the stand-in deaf on its TCP lines, and when it comes again it hears on.
 */
import { Demand } from '../../../dist/plant/demand.js'

/** Periods; a setpoint that is a little late moves nothing. */
const PATIENCE = 1.5

/** @type {WeakMap<Demand, { from: number, to: number, start: number, period: number }>} */
const moves = new WeakMap()
const { at, hold, move } = Demand.prototype
let unkind = false
process.on('SIGPWR', () => {
  unkind = !unkind
})

Demand.prototype.hold = function (position) {
  moves.delete(this)
  hold.call(this, position)
}

Demand.prototype.move = function (t, to, period) {
  const from = this.at(t)
  move.call(this, t, to, period)
  moves.set(this, { from, to, start: t, period })
}

Demand.prototype.at = function (t) {
  const last = unkind ? moves.get(this) : undefined
  const past = last ? t - last.start - PATIENCE * last.period : 0
  return past > 0 && last.period > 0
    ? last.to + ((last.to - last.from) * past) / last.period
    : at.call(this, t)
}

let deaf = false
process.on('SIGUSR2', () => {
  deaf = !deaf
  for (const handle of process._getActiveHandles()) {
    if (handle.remotePort === undefined) continue
    if (deaf) handle.pause()
    else handle.resume()
  }
})
