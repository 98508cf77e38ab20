/** The one order of a run: recording, judge, then the findings one after another, each with all that the bench does about it. */
import { describe, expect, it } from 'vitest'
import { runLog } from '../../../src/bench/log.js'
import type { BenchEvent, Finding } from '../../../src/files/event.js'

const finding = (place: string): Finding => ({
  watch: 'limits',
  severity: 'failure',
  place,
  t: 0,
  quantity: 'position',
  value: 2,
  limit: 1,
  unit: 'rad',
  says: 'The position went beyond its limit.',
  why: 'It matters.',
  look: 'Look.',
  stop: 1,
})
const stop = (place: string): BenchEvent => ({
  kind: 'stop',
  t: 0,
  source: 'limits',
  place,
  category: 1,
  says: '',
})
const SYNC = { id: 0x080, extended: false, remote: false, data: new Uint8Array(0) }

/** A log whose judge finds something in the first frame, and a bench that records each finding, then stops. */
function logOf(found: readonly string[], seen: string[]) {
  const findings: Finding[] = []
  const log = runLog(
    {
      frame: () => seen.push('frame recorded'),
      event: (e) => seen.push(`${e.kind} ${'place' in e ? e.place : ''} recorded`),
      flush: () => {},
    },
    {
      frame: () => {
        seen.push('frame judged')
        findings.push(...found.map(finding))
      },
      event: () => {},
    },
    findings,
    {
      onFinding: (f) => {
        log.event({ kind: 'finding', ...f })
        log.event(stop(f.place))
      },
      onFailure: () => seen.push('failure'),
    },
  )
  return log
}

describe('log of a run', () => {
  it('records, judges, then tells the finding', () => {
    const seen: string[] = []
    logOf(['port.elbow'], seen).frame(0, SYNC, 0, true)
    expect(seen).toEqual([
      'frame recorded',
      'frame judged',
      'finding port.elbow recorded',
      'stop port.elbow recorded',
    ])
  })

  it('of several findings in one frame the first is dealt with first: the stop is put down to it', () => {
    const seen: string[] = []
    logOf(['port.elbow', 'port.pitch'], seen).frame(0, SYNC, 0, true)
    expect(seen.slice(2)).toEqual([
      'finding port.elbow recorded',
      'stop port.elbow recorded',
      'finding port.pitch recorded',
      'stop port.pitch recorded',
    ])
  })

  it('a bench that throws at one finding is told the next one all the same', () => {
    const findings: Finding[] = []
    const told: string[] = []
    const log = runLog(
      { frame: () => {}, event: () => {}, flush: () => {} },
      { frame: () => findings.push(finding('port.elbow')), event: () => {} },
      findings,
      {
        onFinding: (f) => {
          told.push(f.place)
          if (told.length === 1) throw new Error('a defect of the bench')
        },
        onFailure: () => {},
      },
    )
    expect(() => log.frame(0, SYNC, 0, true)).toThrow('a defect of the bench')
    log.frame(0, SYNC, 1, true)
    expect(told).toEqual(['port.elbow', 'port.elbow'])
  })
})
