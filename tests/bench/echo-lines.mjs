// Sends each line back, with the numbers of a whole answer; a greeting is answered as a driver does.
import { createInterface } from 'node:readline'

const setpoints = Array.from({ length: 12 }, (_, i) => 0.1234567890123 * (i + 1))
for await (const line of createInterface({ input: process.stdin })) {
  const { hello, n } = JSON.parse(line)
  if (hello) process.stdout.write('{"ready":1}\n')
  else if (n) process.stdout.write(`${JSON.stringify({ n, setpoints })}\n`)
}
