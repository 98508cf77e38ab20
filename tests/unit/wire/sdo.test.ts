import { describe, expect, it } from 'vitest'
import { OBJECT } from '../../../src/wire/cia402/objects.js'
import { abortReply, readSdoReply, readSdoRequest, withSign } from '../../../src/wire/cia402/sdo.js'

const bytes = (text: string): Uint8Array => Uint8Array.from(text.split(' '), (b) => Number.parseInt(b, 16))

describe('what is no expedited transfer is not read as one', () => {
  it.each([
    ['a segmented download', '21 60 60 00 20 00 00 00'],
    ['a download segment', '00 01 02 03 04 05 06 07'],
    ['an upload segment request', '60 00 00 00 00 00 00 00'],
    ['a block download', 'c2 60 60 00 20 00 00 00'],
    ['seven bytes', '40 60 60 00 00 00 00'],
  ])('request: %s', (_, text) => expect(readSdoRequest(bytes(text))).toBeUndefined())

  it.each([
    ['a segmented upload', '41 64 60 00 20 00 00 00'],
    ['a write', '23 7a 60 00 01 02 03 04'],
    ['seven bytes', '60 60 60 00 00 00 00'],
  ])('reply: %s', (_, text) => expect(readSdoReply(bytes(text))).toBeUndefined())
})

it('reads an abort from either side', () => {
  const abort = { what: 'abort', index: 0x6060, sub: 0, code: 0x06090030 }
  const { data } = abortReply(5, 0x6060, 0, 0x06090030)
  expect(readSdoReply(data)).toEqual(abort)
  expect(readSdoRequest(data)).toEqual(abort)
})

it('takes all four bytes where no size is stated', () => {
  expect(readSdoReply(bytes('42 64 60 00 01 00 00 80'))).toMatchObject({
    what: 'value',
    bytes: 4,
    raw: 0x80000001,
  })
})

it('gives signed objects their sign, and only those', () => {
  expect(withSign(0xffffffff, OBJECT.actualPosition)).toBe(-1)
  expect(withSign(0x80000000, OBJECT.actualPosition)).toBe(-(2 ** 31))
  expect(withSign(0xfffe, OBJECT.actualTorque)).toBe(-2)
  expect(withSign(0xfd, OBJECT.periodExponent)).toBe(-3)
  expect(withSign(0x7f, OBJECT.mode)).toBe(127)
  expect(withSign(0xffffffff, OBJECT.followingWindow)).toBe(0xffffffff)
})

it('reads from the middle of a larger buffer', () => {
  const large = bytes('ff ff 43 64 60 00 01 02 03 04 ff')
  expect(readSdoReply(large.subarray(2, 10))).toMatchObject({ index: 0x6064, raw: 0x04030201 })
})
