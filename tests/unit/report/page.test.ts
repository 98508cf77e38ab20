import { describe, expect, it } from 'vitest'
import { extremes, narrowed, outline } from '../../../src/report/page/band.js'
import { reportHtml } from '../../../src/report/page/report.js'
import { scale, withAir } from '../../../src/report/page/scale.js'
import { STYLE } from '../../../src/report/page/style.js'
import type { Trace } from '../../../src/verdict/verdict.js'
import { FINDINGS, INCOMPLETE, PASSED, RIG, SCENARIO, sample, trace, VERDICT } from './sample-run.js'

const html = reportHtml(sample())

/** Text as a reader sees it. */
const text = html.replace(/<style>[\s\S]*?<\/style>|<[^>]*>/g, ' ').replace(/\s+/g, ' ')

/** The part of the page that shows one joint. */
function figure(page: string, joint: string): string {
  const all = [...page.matchAll(/<figure><figcaption>[\s\S]*?<\/figure>/g)].map((m) => m[0])
  return all.find((f) => f.includes(`<figcaption>${joint}<`)) ?? ''
}

describe('report.html', () => {
  it('says the verdict, the reason, what was expected, the stop and every finding', () => {
    expect(text).toContain(VERDICT.sentence)
    expect(html).toContain('<p class="outcome">FAIL</p>')
    for (const e of VERDICT.expectations) expect(text).toContain(e.expected)
    expect(text).toContain('Time to still 212 ms')
    for (const f of FINDINGS) {
      for (const part of [f.place, f.says, f.why, f.look, f.quantity]) expect(text).toContain(part)
    }
    expect(text).toContain('#3 failure port.elbow 6.064 s age of feedback 62 ms limit 30 ms')
    expect(text).toContain('Drystroke is not a safety device.')
    expect(text).toContain('Simulated results are no evidence for real arms.')
    expect(text).toContain('Machine bench, linux x64')
  })

  it('tells every setting of the watches, those of this rig first', () => {
    const part = text.slice(text.indexOf('Settings of the watches'))
    expect(part).toContain('One is set otherwise than usual.')
    expect(part).toMatch(
      /limits\.warning 80 % 90 % share of a limit: &quot;10 %&quot; at least .*The 2 that are as usual/,
    )
    expect(part).toContain('bus.rise 64 counts by which error counters may rise')
    expect(part).toContain('load.trip none left out: not known')
    const usual = reportHtml(sample({ settings: sample().settings.slice(1) }))
    expect(usual).toContain('All are as usual.')
    expect(usual).not.toContain('Set by this rig')
  })

  it('draws every joint, and marks finding, fault and stop where they belong', () => {
    for (const j of RIG.joints) expect(figure(html, j.name)).toContain('class="feedback" d="m')
    const elbow = figure(html, 'port.elbow')
    for (const label of ['#2', '#3', 'silent', 'stop']) expect(elbow).toContain(`>${label}</tspan>`)
    const swing = figure(html, 'port.swing')
    expect(swing).toContain('>stop</tspan>')
    expect(swing).not.toMatch(/>#\d<\/tspan>|>silent</)
    // The stop, 8.164 s of 13.4 s, on an axis of 44 to 450.
    expect(swing).toContain(`<line class="stop" x1="${Math.round((44 + (406 * 8.164) / 13.4) * 10) / 10}"`)
    // A finding on a bus concerns the joints on it.
    expect(figure(html, 'starboard.roll')).toContain('>#4</tspan>')
    // The upper limit of the shoulder is near, the others are far away.
    expect(figure(html, 'port.shoulder')).toContain('position limit 27\u00a0deg')
    expect(swing).not.toContain('position limit')
  })

  it('draws the raw error without the limit that belongs to the error with the lag removed', () => {
    const elbow = figure(html, 'port.elbow')
    expect(elbow).not.toContain('limit of the following error')
    // From the figures of the tracking watch: 0.4 + 2 x 0.3 deg, held against 3 deg.
    expect(elbow).toMatch(/error [\d.]+\sdeg raw, 1\sdeg of 3\sdeg lag removed</)
  })

  it('shows failures that were expected as such, everywhere', () => {
    const page = reportHtml(sample({ verdict: { ...VERDICT, outcome: 'pass', findings: [FINDINGS[2]!] } }))
    expect(page).toContain('<span class="expected">failure, expected</span>')
    expect(page).not.toContain('<span class="failure">')
    expect(page).toContain('<dt>Findings</dt><dd>1 expected failure</dd>')
    expect(figure(page, 'port.elbow')).not.toContain('class="finding"')
    expect(html).toContain('<span class="failure">failure</span>')
    expect(html).toContain('<dt>Findings</dt><dd>2 failures, 1 doubt, 1 warning</dd>')
  })

  it('numbers the whole time axis', () => {
    const swing = figure(html, 'port.swing')
    for (const t of ['−2', '0', '2', '4', '6', '8', '10 s']) expect(swing).toContain(`>${t}</text>`)
  })

  it('has every limit beside its value, and figures of the whole rig outside the tables', () => {
    const figures = [
      { place: '', name: 'delay of speed', value: 0.005, unit: 's', limit: null },
      { place: 'port.elbow', name: 'peak speed', value: 3.0004, unit: 'rad/s', limit: 3 },
    ] as const
    const page = reportHtml(sample({ verdict: { ...VERDICT, watches: [{ watch: 'limits', figures }] } }))
    expect(page).toContain('<dt>delay of speed</dt><dd>5\u00a0ms</dd>')
    // Just above a limit must not look like at the limit.
    expect(page).toContain('>171.91\u00a0deg/s<small>limit 171.89\u00a0deg/s</small>')
    expect(page).not.toContain('>whole rig</th>')
  })

  it('has figures that share no place and no name in tables of their own, and no table wider than a sheet of paper', () => {
    const figure = (place: string, name: string, value: number) =>
      ({ place, name, value, unit: 'N m', limit: null }) as const
    const joints = ['port.swing', 'port.elbow', 'starboard.swing']
    const figures = ['port', 'starboard'].flatMap((arm) => [
      figure(arm, 'payload', 1),
      ...joints
        .filter((joint) => joint.startsWith(`${arm}.`))
        .flatMap((joint) => Array.from({ length: 13 }, (_, i) => figure(joint, `torque ${i}`, i))),
    ])
    const page = reportHtml(sample({ verdict: { ...VERDICT, watches: [{ watch: 'load', figures }] } }))
    const tables = [
      ...page.matchAll(/<caption>(Figures of the load watch[^<]*)<\/caption>([\s\S]*?)<\/table>/g),
    ]
    const heads = (markup: string) => [...markup.matchAll(/scope="col">([^<]*)</g)].map((m) => m[1])
    const places = (markup: string) => [...markup.matchAll(/scope="row">([^<]*)</g)].map((m) => m[1])
    expect(tables.map(([, caption, markup]) => [caption, heads(markup!).length, places(markup!)])).toEqual([
      ['Figures of the load watch, 1 of 4', 2, ['port', 'starboard']],
      ['Figures of the load watch, 2 of 4', 6, joints],
      ['Figures of the load watch, 3 of 4', 6, joints],
      ['Figures of the load watch, 4 of 4', 4, joints],
    ])
    // Each figure is there once, and no cell is empty.
    expect(tables.flatMap(([, , markup]) => heads(markup!).slice(1))).toEqual([
      'payload',
      ...Array.from({ length: 13 }, (_, i) => `torque ${i}`),
    ])
    expect(tables.some(([, , markup]) => markup!.includes('></td>'))).toBe(false)
  })

  it('is one file without script that asks for nothing, below 1 MB for twelve joints', () => {
    expect(/<script|<link|<img|<iframe|@import|url\(|src=|https?:/i.exec(html)).toBeNull()
    expect([...html.matchAll(/href="([^"]*)"/g)].every((m) => m[1]!.startsWith('#'))).toBe(true)
    const worst = reportHtml(
      sample({ trace: jagged(), verdict: { ...VERDICT, findings: Array(200).fill(FINDINGS[2]) } }),
    )
    expect(Buffer.byteLength(worst)).toBeLessThan(1e6)
  })

  it('leads every link and label to something that is there, once', () => {
    const ids = [...html.matchAll(/ id="([^"]*)"/g)].map((m) => m[1]!)
    expect(new Set(ids).size).toBe(ids.length)
    const named = [...html.matchAll(/aria-labelledby="([^"]*)"/g)].flatMap((m) => m[1]!.split(' '))
    const linked = [...html.matchAll(/href="#([^"]*)"/g)].map((m) => m[1]!)
    expect(linked.length).toBeGreaterThan(5)
    for (const id of [...named, ...linked]) expect(ids).toContain(id)
    expect(html.match(/<svg viewBox[^>]*role="img" aria-labelledby/g)).toHaveLength(13)
    expect(html.match(/<h1>/g)).toHaveLength(1)
  })

  it('lets nothing become markup', () => {
    const bad = '<script>alert(1)</script>"\' &'
    const page = reportHtml(
      sample({
        verdict: {
          ...VERDICT,
          sentence: bad,
          rig: bad,
          scenario: bad,
          cautions: [bad],
          expectations: [{ expected: bad, found: bad, met: false }],
          findings: [
            { ...FINDINGS[1]!, place: bad, says: bad, why: bad, look: bad, quantity: bad, watch: bad },
          ],
          stop: { ...VERDICT.stop!, source: bad, place: bad, says: bad },
          watches: [
            { watch: bad, figures: [{ place: bad, name: bad, value: 1, unit: 'none', limit: null }] },
          ],
        },
        scenario: { ...SCENARIO, about: bad },
        rig: {
          ...RIG,
          arms: RIG.arms.map((a) => ({ ...a, name: bad })),
          joints: RIG.joints.map((j) => ({ ...j, name: `${bad}${j.index}` })),
        },
        provenance: { ...sample().provenance!, host: bad, arguments: [bad], rigFile: bad, scenarioFile: bad },
      }),
    )
    expect(page.includes('<script')).toBe(false)
    expect(page.includes('&lt;script&gt;')).toBe(true)
    expect(/alert\(1\)<|"' &[^a#]/.test(page)).toBe(false)
  })

  it('shows a run that never began, one without samples and one without a provenance', () => {
    const empty: Trace = { ...trace(10), setpoint: none(), feedback: none(), error: none() }
    const page = reportHtml(sample({ verdict: INCOMPLETE, trace: empty, stages: [], provenance: null }))
    expect(page.includes('INCOMPLETE')).toBe(true)
    expect(page.match(/No setpoint and no feedback was recorded/g)).toHaveLength(12)
    expect(page.includes('NaN')).toBe(false)
    expect(reportHtml(sample({ verdict: PASSED })).includes('NaN')).toBe(false)
    expect(html.includes('NaN')).toBe(false)
    // What the trace is when not one frame was seen.
    const nothing = RIG.joints.map(() => ({ min: new Float64Array(), max: new Float64Array() }))
    const unseen: Trace = {
      from: Number.NaN,
      bin: 5e6,
      bins: 0,
      setpoint: nothing,
      feedback: nothing,
      error: nothing,
    }
    expect(reportHtml(sample({ verdict: INCOMPLETE, trace: unseen })).includes('NaN')).toBe(false)
    expect(reportHtml(sample({ trace: { ...trace(10), setpoint: none() } })).includes('NaN')).toBe(false)
  })

  it('does not speak of simulated arms when they were real', () => {
    const page = reportHtml(sample({ provenance: { ...sample().provenance!, arms: 'real' } }))
    expect(page.includes('Simulated results')).toBe(false)
  })
})

function none(): Trace['error'] {
  const nan = new Float64Array(10).fill(Number.NaN)
  return RIG.joints.map(() => ({ min: nan, max: nan }))
}

/** The longest curves there can be: every bin jumps from end to end. */
function jagged(): Trace {
  const bins = 400
  const min = Float64Array.from({ length: bins }, (_, i) => -123.456 * ((i * 0.618) % 1))
  const max = Float64Array.from({ length: bins }, (_, i) => 123.456 * ((i * 0.381) % 1))
  const band = RIG.joints.map(() => ({ min, max }))
  return { from: 0, bin: 13.4e9 / bins, bins, setpoint: band, feedback: band, error: band }
}

describe('bands', () => {
  const t = { from: 0, bin: 1, bins: 7 } as Trace
  const of = (...v: number[]): Float64Array => Float64Array.from(v)

  it('are made narrower without losing an extreme', () => {
    const band = { min: of(0, -5, 1, 1, NaN, NaN, NaN), max: of(1, 2, 9, 1, NaN, NaN, 3) }
    band.min[6] = 2
    const { band: narrow, join } = narrowed(t, band, 4)
    expect(join).toBe(2)
    expect(narrow).toEqual({ min: of(-5, 1, NaN, 2), max: of(2, 9, NaN, 3) })
    expect(extremes(narrow)).toEqual([-5, 9])
    expect(extremes({ min: of(NaN), max: of(NaN) })).toEqual([NaN, NaN])
  })

  it('are outlined run by run, with gaps where there are no samples', () => {
    const band = { min: of(0, 1, NaN, 2), max: of(3, 3, NaN, 4) }
    // Relative steps: there along the greatest values, back along the least; the next run starts from where the first began.
    expect(
      outline(
        band,
        (bin) => bin * 10,
        (v) => v,
      ),
    ).toBe('m5 3l10 0l0 -2l-10 -1zm30 1l0 -2z')
  })
})

describe('scales', () => {
  it.each([
    [0, 25, 5, [0, 5, 10, 15, 20, 25]],
    [-2.1, 11.3, 5, [-2, 0, 2, 4, 6, 8, 10]],
    [-0.83, 0.83, 3, [-0.5, 0, 0.5]],
    [-1e-4, 1e-4, 3, [-1e-4, 0, 1e-4]],
  ])('from %f to %f have round ticks', (from, to, least, ticks) => {
    const s = scale(from, to, 100, 200, least)
    expect(s.ticks.map((v) => Number(v.toFixed(9)))).toEqual(ticks)
    expect([s.place(from), s.place(to)]).toEqual([100, 200])
  })

  it('tell their ticks apart', () => {
    for (let i = 1; i < 500; i++) {
      const s = scale(-i * 0.0137, i * 0.0071, 0, 1, 3)
      expect(new Set(s.ticks.map((v) => v.toFixed(s.decimals))).size).toBe(s.ticks.length)
      expect(s.ticks.length).toBeGreaterThanOrEqual(3)
      expect(s.ticks.length).toBeLessThan(9)
    }
  })

  it('are never empty', () => {
    expect(withAir(3, 3, 1)[1]).toBeGreaterThan(3)
    expect(withAir(NaN, NaN, 1)).toEqual([-0.5, 0.5])
  })
})

describe('the colours of the page', () => {
  // WCAG 2.1: relative luminance and contrast ratio as defined there; 1.4.3 asks for 4.5 for text, 1.4.11 for 3 for graphics.
  const luminance = (hex: string): number => {
    const [r, g, b] = [1, 3, 5].map((i) => {
      const c = Number.parseInt(hex.slice(i, i + 2), 16) / 255
      return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4
    })
    return 0.2126 * r! + 0.7152 * g! + 0.0722 * b!
  }
  const contrast = (a: string, b: string): number => {
    const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y)
    return (high! + 0.05) / (low! + 0.05)
  }
  const themes = [...STYLE.matchAll(/:root \{([^}]*--ink[^}]*)\}/g)].map(
    (m) => new Map([...m[1]!.matchAll(/--(\w+): (#[0-9a-f]{6});/g)].map((c) => [c[1]!, c[2]!])),
  )

  it('are two sets with the same names', () => {
    expect(themes).toHaveLength(2)
    expect([...themes[1]!.keys()].sort()).toEqual([...themes[0]!.keys()].sort())
    expect(contrast('#000000', '#ffffff')).toBeCloseTo(21)
  })

  it.each([0, 1])('keep text and curves apart from the ground, set %i', (i) => {
    const c = (name: string): string => themes[i]!.get(name)!
    for (const name of ['ink', 'soft', 'good', 'bad', 'doubt']) {
      expect([name, contrast(c(name), c('sheet')) >= 4.5]).toEqual([name, true])
    }
    for (const name of ['feedback', 'error', 'limit', 'bad', 'doubt']) {
      for (const ground of ['sheet', 'shade']) {
        expect([name, ground, contrast(c(name), c(ground)) >= 3]).toEqual([name, ground, true])
      }
    }
    // Setpoint and feedback lie on one another.
    expect(contrast(c('feedback'), c('setpoint'))).toBeGreaterThanOrEqual(3)
  })
})
