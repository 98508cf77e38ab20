/** Whatever of ours fails in mid-run, the arms are stopped first and the error comes after. */
import { describe, expect, it } from 'vitest'
import type { RunLog } from '../../src/bench/run-log.js'
import { runVirtual } from '../../src/bench/virtual.js'
import { DrystrokeError } from '../../src/errors.js'
import type { BenchEvent } from '../../src/files/event.js'
import { loadRig, loadScenario } from '../../src/files/load.js'
import type { RecordingWriter } from '../../src/record/write.js'
import { watchSchemas } from '../../src/watch/settings.js'
import type { Frame } from '../../src/wire/frame.js'
import { DEMO_RIG, scenarioText } from '../setup/runs.js'

const rig = loadRig(DEMO_RIG, 'rig.yaml', watchSchemas)
const scenario = loadScenario(scenarioText('slow-ahead'), 'scenario.yaml', rig)

/** Plays with a recording that can throw; gives what was asked of it and what the run threw. */
async function play(
  fails: (bus: number, frame: Frame, t: number) => void,
  failsOn: (e: BenchEvent) => void = () => {},
) {
  const seen: string[] = []
  const recording: Pick<RecordingWriter, 'frame' | 'event' | 'flush'> & RunLog = {
    frame(bus, frame, t, sent) {
      if (sent && frame.id === 0x181) seen.push(`bus ${bus}: controlword ${frame.data[0]}`)
      if (sent && frame.id > 0x200 && frame.id < 0x280) seen.push('setpoint')
      fails(bus, frame, t)
    },
    flush() {},
    event(e) {
      if (e.kind === 'stop' || e.kind === 'end') seen.push(e.kind)
      failsOn(e)
    },
  }
  const thrown = await runVirtual({ rig, scenario, seed: 1, recording: recording as RecordingWriter }).then(
    () => null,
    (error: unknown) => error,
  )
  return { seen, thrown }
}

describe('a failure of ours', () => {
  const full = new DrystrokeError('file-access', 'no space left')

  it.each([
    ['once', (t: number) => t === 8e9],
    ['from then on', (t: number) => t >= 8e9],
  ])(
    'a recording that cannot be written, %s: quick stop on every bus, no setpoint after it, then the error',
    async (_, when) => {
      let failed = false
      const { seen, thrown } = await play((_bus, frame, t) => {
        if (frame.id === 0x080 && when(t)) {
          failed = true
          throw full
        }
      })
      expect(failed).toBe(true)
      expect(thrown).toBe(full)
      const at = seen.indexOf('bus 0: controlword 2')
      expect(seen[at + 1]).toBe('bus 1: controlword 2')
      expect(seen.slice(at)).not.toContain('setpoint')
      expect(seen).toContain('end')
    },
  )

  it('events that cannot be written stop the arms too', async () => {
    const { seen, thrown } = await play(
      () => {},
      (e) => {
        if (e.kind === 'tick' && e.t >= 8e9) throw full
      },
    )
    expect(thrown).toBe(full)
    expect(seen.slice(seen.indexOf('bus 0: controlword 2'))).not.toContain('setpoint')
  })

  it('a recording that fails at its first event: the error itself, and nothing is sent at all', async () => {
    const { seen, thrown } = await play(
      () => {},
      (e) => {
        if (e.kind === 'begin') throw full
      },
    )
    expect({ seen, thrown }).toEqual({ seen: [], thrown: full })
  })
})
