/**
 * Numbers in the bits of a frame against numpy (Debian's python3-numpy), in one process of Debian's own Python, JSON in and
 * out. numpy looks at it the other way: `little` is a run of bits in a stream that is unpacked lowest bit first, `big` a run
 * in one unpacked highest bit first; signs come from shifts of 64-bit integers, whole numbers from numpy's own dtypes, CRCs
 * from long division. Debian's python3-can carries frames and decodes no signals, so it has nothing to compare with here.
 */
import { spawnSync } from 'node:child_process'
import { beforeAll, describe, expect, it } from 'vitest'
import type { BitPlace, ChecksumRule } from '../../src/files/rig.js'
import { randomStream } from '../../src/random.js'
import { checksum } from '../../src/wire/frame-map/checksum.js'
import { Field } from '../../src/wire/frame-map/field.js'
import { needs } from '../setup/needs.js'

interface Case extends BitPlace {
  /** A frame with something in it; numpy reads it, and writes `value` into it. */
  readonly data: number[]
  readonly value: number
}

interface Sum extends ChecksumRule {
  readonly data: number[]
}

interface Answer {
  readonly read: number[]
  readonly written: number[][]
  readonly whole: number[]
  readonly sums: number[]
}

const PYTHON = `
import json, sys
import numpy as np
asked = json.load(sys.stdin)

def run(c):
    """Indices of the number's bits in the unpacked stream, lowest first, and the order of unpacking."""
    if c["order"] == "little":
        first = 8 * c["byte"] + c["bit"]
        return np.arange(first, first + c["length"]), "little"
    last = 8 * c["byte"] + 7 - c["bit"]
    return np.arange(last, last - c["length"], -1), "big"

def read(c):
    where, order = run(c)
    bits = np.unpackbits(np.array(c["data"], np.uint8), bitorder=order)[where].astype(np.int64)
    value = np.sum(bits << np.arange(c["length"], dtype=np.int64))
    if c["signed"]:
        up = np.int64(64 - c["length"])
        value = (value << up) >> up
    return int(value)

def write(c):
    where, order = run(c)
    stream = np.unpackbits(np.array(c["data"], np.uint8), bitorder=order)
    stream[where] = (np.int64(c["value"]) >> np.arange(c["length"], dtype=np.int64)) & 1
    return [int(b) for b in np.packbits(stream, bitorder=order)]

def divided(s):
    """CRC by long division of the whole message, one bit at a time, with the start value as a first byte's difference."""
    data = list(s["data"])
    if s["kind"] == "sum":
        return (int(np.sum(np.array(data, np.uint64)) + s["start"]) % 256) ^ s["final"]
    if s["kind"] == "xor":
        return int(np.bitwise_xor.reduce(np.array(data, np.uint8))) ^ s["start"] ^ s["final"]
    data[0] ^= s["start"]
    message = int.from_bytes(bytes(data), "big") << 8
    divisor = 0x100 | s["polynomial"]
    for at in range(8 * len(data) + 7, 7, -1):
        if message >> at & 1:
            message ^= divisor << (at - 8)
    return message ^ s["final"]

whole = []
for c in asked["whole"]:
    kind = (">" if c["order"] == "big" else "<") + ("i" if c["signed"] else "u") + str(c["length"] // 8)
    at = c["byte"] if c["order"] == "little" else c["byte"] - c["length"] // 8 + 1
    whole.append(int(np.frombuffer(bytes(c["data"]), kind, 1, at)[0]))

json.dump({
    "read": [read(c) for c in asked["cases"]],
    "written": [write(c) for c in asked["cases"]],
    "whole": whole,
    "sums": [divided(s) for s in asked["sums"]],
}, sys.stdout)
`

const random = randomStream(11, 'frame map outside')
const whole = (n: number): number => Math.floor(random.uniform() * n)
const frame = (): number[] => Array.from({ length: 8 }, () => whole(256))

function caseOf(length: number, bit: number, order: 'little' | 'big'): Case {
  const bytes = Math.ceil((bit + length) / 8)
  const first = whole(9 - bytes)
  const signed = whole(2) === 0
  const byte = order === 'little' ? first : first + bytes - 1
  const least = signed ? -(2 ** (length - 1)) : 0
  const value = least + Math.floor(random.uniform() * 2 ** length)
  return { byte, bit, length, order, signed, data: frame(), value }
}

/** Every length at every bit in both orders, three times over. */
const CASES: Case[] = [1, 2, 3].flatMap(() =>
  Array.from({ length: 53 }, (_, i) => i + 1).flatMap((length) =>
    [0, 1, 2, 3, 4, 5, 6, 7]
      .filter((bit) => bit + length <= 64)
      .flatMap((bit) => [caseOf(length, bit, 'little'), caseOf(length, bit, 'big')]),
  ),
)
const WHOLE: Case[] = Array.from({ length: 400 }, () =>
  caseOf([8, 16, 32][whole(3)]!, 0, whole(2) === 0 ? 'little' : 'big'),
)
const SUMS: Sum[] = Array.from({ length: 900 }, (_, i) => ({
  kind: (['crc8', 'xor', 'sum'] as const)[i % 3]!,
  polynomial: whole(256),
  start: whole(256),
  final: whole(256),
  data: Array.from({ length: 1 + whole(7) }, () => whole(256)),
}))

describe.skipIf(!needs('python3-numpy'))('frame map fields beside numpy', () => {
  let answer: Answer

  beforeAll(() => {
    const { stdout, stderr, status } = spawnSync('/usr/bin/python3', ['-c', PYTHON], {
      input: JSON.stringify({ cases: CASES, whole: WHOLE, sums: SUMS }),
      encoding: 'utf8',
      maxBuffer: 1 << 26,
      timeout: 60_000,
    })
    expect({ status, stderr }).toEqual({ status: 0, stderr: '' })
    answer = JSON.parse(stdout)
  })

  it(`reads ${CASES.length} numbers of 1 to 53 bits as numpy does`, () => {
    expect(CASES.map((c) => new Field(c).read(Uint8Array.from(c.data)))).toEqual(answer.read)
  })

  it('writes them into the same bits', () => {
    const written = CASES.map((c) => {
      const data = Uint8Array.from(c.data)
      new Field(c).write(data, c.value)
      return [...data]
    })
    expect(written).toEqual(answer.written)
  })

  it('reads whole bytes as numpy reads its own integers of either byte order', () => {
    expect(WHOLE.map((c) => new Field(c).read(Uint8Array.from(c.data)))).toEqual(answer.whole)
  })

  it(`works out ${SUMS.length} checksums as long division and numpy do`, () => {
    expect(SUMS.map((s) => checksum(s, Uint8Array.from(s.data), -1))).toEqual(answer.sums)
  })
})
