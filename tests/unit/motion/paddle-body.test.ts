/** A paddle as a plate: against a sum over small pieces of it. */
import { expect, it } from 'vitest'
import { whyUnphysical } from '../../../src/files/body.js'
import { paddleBody } from '../../../src/motion/paddle-body.js'
import { cross } from '../../../src/motion/pose.js'

it.each([
  [[0, 1, 0] as const, [0, 0, 1] as const],
  [[0.6, 0, -0.8] as const, [0.8, 0, 0.6] as const],
])('normal %j, shaft %j', (normal, shaft) => {
  const paddle = { mass: 0.5, area: 0.03, length: 0.2, width: 0.16 }
  const across = cross(normal, shaft)
  const sum = [0, 0, 0, 0, 0, 0]
  const N = 400
  for (let a = 0; a < N; a++) {
    for (let b = 0; b < N; b++) {
      const u = ((a + 0.5) / N - 0.5) * paddle.length
      const v = ((b + 0.5) / N - 0.5) * paddle.width
      const [x, y, z] = [0, 1, 2].map((i) => u * shaft[i]! + v * across[i]!) as [number, number, number]
      const m = paddle.mass / (N * N)
      ;[y * y + z * z, x * x + z * z, x * x + y * y, -x * y, -x * z, -y * z].forEach((s, i) => {
        sum[i] = sum[i]! + m * s
      })
    }
  }
  const body = paddleBody(paddle, { normal, shaft })
  expect(body).toMatchObject({ mass: 0.5, centre: [0, 0, 0] })
  for (const [i, x] of body.inertia.entries()) expect(x).toBeCloseTo(sum[i]!, 7)
  expect(whyUnphysical(body)).toBeNull()
})
