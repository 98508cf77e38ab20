import { describe, expect, it } from 'vitest'
import { progressLine, progressOn } from '../../../src/cli/progress.js'
import { SCENARIO } from '../report/sample-run.js'

const at = { head: ' 3 of 15  pivot-to-starboard', s: 12.3, duration: 27, stage: 'approach' }

describe('the progress line', () => {
  it('has scenario, bar, time and stage', () => {
    expect(progressLine({ ...at, s: 13.5, head: '1 of 1  slow-ahead' }, 100)).toBe(
      `1 of 1  slow-ahead                  ${'='.repeat(12)}${'.'.repeat(12)} 13.5 s of 27 s  approach`,
    )
  })

  it.each([200, 100, 80, 72, 60, 50, 40])('keeps time and stage in %i columns', (columns) => {
    const line = progressLine(at, columns)
    expect(line.length).toBeLessThan(columns)
    expect(line).toMatch(/12\.3 s of 27 s {2}approach$/)
    if (columns >= 60) expect(line).toContain('pivot-to-starboard')
  })

  it.each([0, 1, 10, 30])('is never longer than %i columns', (columns) => {
    expect(progressLine(at, columns).length).toBeLessThanOrEqual(columns)
  })

  it('has a bar that is empty at first and full at the end, also when the blades go on to park', () => {
    const bar = (s: number | null): string => /[=.]{6,}/.exec(progressLine({ ...at, s }, 100))![0]
    expect(bar(null)).toBe('.'.repeat(24))
    expect(bar(27)).toBe('='.repeat(24))
    expect(bar(29)).toBe('='.repeat(24))
  })
})

describe('progress', () => {
  const shown = (isTTY: boolean, term: string): string => {
    let text = ''
    const before = process.env.TERM
    process.env.TERM = term
    try {
      const out = { isTTY, columns: 80, write: (part: string) => (text += part) }
      const progress = progressOn(out as unknown as NodeJS.WriteStream)
      progress.begin(SCENARIO, 1, 2)
      progress.at(1, 'play')
      progress.say('stopping ...')
      progress.end('incomplete')
    } finally {
      if (before === undefined) delete process.env.TERM
      else process.env.TERM = before
    }
    return text
  }

  it.each([
    [false, 'xterm'],
    [true, 'dumb'],
  ])('is plain lines where none can be written over (terminal: %s, TERM=%s)', (isTTY, term) => {
    expect(shown(isTTY, term)).toBe('stopping ...\n1 of 2  joint-silent: incomplete\n')
  })

  it('clears its line on a terminal before anything else is said', () => {
    expect(shown(true, 'xterm')).toContain('play\r\x1b[Kstopping ...\n\r\x1b[K')
  })
})
