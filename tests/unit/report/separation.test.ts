/** The separation aid in the reports. Rows are those of tests/unit/verdict/separation.test.ts (ISO 13855:2010). */
import { describe, expect, it } from 'vitest'
import type { Provenance } from '../../../src/record/provenance.js'
import { reportHtml } from '../../../src/report/page/report.js'
import { separationAid, separationBlock } from '../../../src/report/separation.js'
import { SEPARATION_CAUTION } from '../../../src/verdict/separation.js'
import { PROVENANCE } from '../record/sample-recording.js'
import { RIG, sample } from './sample-run.js'

const REAL: Provenance = {
  ...PROVENANCE,
  arms: 'real',
  overallStop: { time: 0.32, says: 'somebody: laser gate' },
}
const stated = (time: number) => ({
  ...RIG,
  stop: { ...RIG.stop, overall: { time, entered: 'who, when, how' } },
})
const distances = (...given: Parameters<typeof separationAid>) => {
  const aid = separationAid(...given)
  return aid.overall === null ? aid.lacks : [aid.overall.time, ...aid.distances.map((d) => d.shown)]
}

describe('the separation aid', () => {
  it('rests on the time that was entered for real arms, as the recording tells it', () => {
    expect(distances(RIG, REAL)).toEqual([0.32, '512 mm', '560 mm', '640 mm', '720 mm'])
  })

  it('or on the one that the rig states, whatever the arms of this run were', () => {
    expect(distances(stated(0.165), PROVENANCE)).toEqual([0.165, '330 mm', '378 mm', '458 mm', '500 mm'])
  })

  it('where there are both, on the longer one', () => {
    expect(distances(stated(0.33), REAL)[0]).toBe(0.33)
    expect(distances(stated(0.31), REAL)[0]).toBe(0.32)
  })

  it.each([
    ['no provenance', null],
    ['simulated arms', { ...REAL, arms: 'simulated' }],
    ['a stand-in', { ...REAL, arms: 'stand-in' }],
    ['an older recording', { ...PROVENANCE, arms: 'real' }],
    ['a time that is none', { ...REAL, overallStop: { time: Number.POSITIVE_INFINITY, says: 'x' } }],
    ['a time of nothing', { ...REAL, overallStop: { time: 0, says: 'x' } }],
    ['a time of nobody', { ...REAL, overallStop: { time: 0.3 } }],
    ['something else', { ...REAL, overallStop: 'soon' }],
    ['null', { ...REAL, overallStop: null }],
  ])('%s: none, in one sentence', (_, provenance) => {
    expect(distances(RIG, provenance as Provenance | null)).toBe(
      'No separation distance: the rig states no overall time of its hard-wired stop.',
    )
  })

  it('says what was lacking of real arms when they ran', () => {
    const lacking: Provenance = { ...REAL, overallStop: { time: null, says: 'it has expired' } }
    expect(distances(RIG, lacking)).toBe('No separation distance: it has expired.')
  })

  it('on a terminal: edition, time and whose it is, caution, in 80 columns; without a time one line', () => {
    const block = separationBlock(separationAid(RIG, REAL), 80)
    expect(block).toContain('ISO 13855:2010')
    expect(block).toMatch(/^ {2}detection +14 mm +20 mm +30 mm +40 mm\n {2}distance +512 mm/m)
    expect(block).toContain('T = 320 ms, hard-wired stop, entered in its guided test: somebody: laser gate')
    expect(block.replace(/\s+/g, ' ')).toContain(SEPARATION_CAUTION)
    for (const line of block.split('\n')) expect(line.length).toBeLessThanOrEqual(80)
    expect(separationBlock(separationAid(RIG, null), 80).trimEnd().split('\n')).toHaveLength(1)
  })

  it('no control character of a file reaches the terminal', () => {
    const evil: Provenance = { ...REAL, overallStop: { time: 0.32, says: 'me\u001b[2J\nyou' } }
    expect(separationBlock(separationAid(RIG, evil), 80)).toContain('me\ufffd[2J you')
  })

  it('on the page: the same, escaped', () => {
    const says = 'somebody <b>'
    const html = reportHtml(sample({ provenance: { ...REAL, overallStop: { time: 0.32, says } } }))
    const [, section] = html.split('<section id="separation"')
    expect(section).toMatch(/ISO 13855:2010[\s\S]*320\sms[\s\S]*somebody &lt;b&gt;[\s\S]*14 mm[\s\S]*512 mm/)
    expect(section).toContain(SEPARATION_CAUTION)
    expect(reportHtml(sample())).toContain('<p>No separation distance: the rig states no overall time')
  })
})
