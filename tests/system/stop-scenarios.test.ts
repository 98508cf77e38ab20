/** Every scenario of the stop set passes on the demo rig, at its own motion, speed and phase. Adding one is adding a file. */
import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { ReferenceDriver } from '../../src/driver/reference.js'
import { Workbench } from '../setup/bench.js'
import { DEMO_RIG, play, temporaryFolder } from '../setup/runs.js'

const set = new URL('../../scenarios/stop/', import.meta.url)
const files = readdirSync(set).filter((f) => f.endsWith('.yaml'))

describe('scenarios/stop', () => {
  const out = temporaryFolder()

  it.each(files)('%s passes', async (file) => {
    const { verdict } = await play(out, DEMO_RIG, readFileSync(new URL(file, set), 'utf8'))
    expect(verdict.sentence).toMatch(/^Pass/)
    expect(verdict.outcome).toBe('pass')
  })

  const placed = files.flatMap((file) => {
    const text = readFileSync(new URL(file, set), 'utf8')
    const phase = /at phase ([\d.]+)/.exec(text)?.[1]
    return phase === undefined ? [] : [{ file, text, phase: Number(phase) }]
  })

  it('has stops of each motion at each of 33, 66 and 100 % of speed', () => {
    const motions = ['ahead', 'astern', 'pivot-to-port', 'pivot-to-starboard']
    const wanted = motions.flatMap((m) => [33, 66, 100].map((p) => `${m}-${p}.yaml`))
    expect(placed.map((p) => p.file)).toEqual(expect.arrayContaining(wanted))
  })

  it.each(placed)(
    '$file stops in the motion of its name, at the phase that it states',
    ({ file, text, phase }) => {
      const table = new Workbench()
      const driver = new ReferenceDriver(table.rig)
      const { bench } = table.bench(text, () => {}, driver)
      table.run(bench, () => bench.stage === 'stopping')
      const { port, starboard } = driver.sides
      expect(port.phase).toBeCloseTo(phase, 3)
      const [, motion, percent] = /^(.+)-(\d+)\.yaml$/.exec(file)!
      const whole = (Number(percent) / 100) * table.rig.stroke.fastest! * (1 + table.rig.driver.slip)
      const signs = [Math.sign(port.fullSpeed), Math.sign(starboard.fullSpeed)]
      expect(signs).toEqual(
        {
          ahead: [1, 1],
          astern: [-1, -1],
          'pivot-to-port': [-1, 1],
          'pivot-to-starboard': [1, -1],
        }[motion!],
      )
      for (const side of [port, starboard]) expect(Math.abs(side.fullSpeed)).toBeCloseTo(whole, 4)
    },
  )
})
