/** RFC 6901, 5: the document and the table of values that each pointer gives there. */
import { expect, test } from 'vitest'
import { pointed } from '../../../../src/driver/link/pointer.js'

const DOCUMENT = JSON.parse(
  String.raw`{"foo":["bar","baz"],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\j":5,"k\"l":6," ":7,"m~n":8}`,
)

test.each([
  ['', DOCUMENT],
  ['/foo', ['bar', 'baz']],
  ['/foo/0', 'bar'],
  ['/', 0],
  ['/a~1b', 1],
  ['/c%d', 2],
  ['/e^f', 3],
  ['/g|h', 4],
  ['/i\\j', 5],
  ['/k"l', 6],
  ['/ ', 7],
  ['/m~0n', 8],
])('%j', (pointer, value) => expect(pointed(DOCUMENT, pointer)).toEqual(value))

test.each(['/foo/2', '/foo/00', '/foo/-', '/foo/length', '/no', '/foo/0/x', '/constructor', '/ / '])(
  '%j points to nothing',
  (pointer) => expect(pointed(DOCUMENT, pointer)).toBeUndefined(),
)

test('~01 is a tilde before a one (RFC 6901, 4)', () => {
  expect(pointed({ '~1': 'here' }, '/~01')).toBe('here')
})
