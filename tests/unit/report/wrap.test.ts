/** Lines of a terminal: a number and its unit on one line (SI brochure, 9th ed. (2019), 5.4.3: the space between them is part of it; from memory). */
import { expect, it } from 'vitest'
import { wrap, wrapLines } from '../../../src/report/wrap.js'

it.each([
  ['holds 8 N m at most', 10, ['holds', '8 N m at', 'most']],
  ['strokes 19.7 1/min', 14, ['strokes', '19.7 1/min']],
  ['the elbow, phase 0.903', 16, ['the elbow,', 'phase 0.903']],
  ['1 of 3 arms', 6, ['1 of 3', 'arms']],
])('%s in %i columns', (text, width, lines) => {
  expect(wrap(text, width, 0)).toEqual(lines)
})

it('breaks what is longer than a line nevertheless, and loses no character of it', () => {
  expect(wrap('123456789 N m', 8, 0).every((line) => line.length <= 8)).toBe(true)
  expect(wrap('123456789 N m', 8, 0).join('')).toBe('123456789 N m')
})

it('indents the lines that follow, and what stands behind a dash', () => {
  expect(wrap('one two three', 9, 1, 3)).toEqual([' one two', '   three'])
  expect(wrapLines('- one two\n\n  three', 7)).toBe('- one\n  two\n\n  three')
})
