// A driver that holds the park pose, until at command 60 it does what its argument says.
import { writeSync } from 'node:fs'
import { createInterface } from 'node:readline'

const [how] = process.argv.slice(2)
const AT = 60
let park = []
const say = (message) => process.stdout.write(`${JSON.stringify(message)}\n`)

const FAULTS = {
  dies: () => {
    process.stderr.write('this is the end\n', () => process.exit(3))
  },
  crashes: () => {
    throw new Error('a wheel came off')
  },
  floods: () => {
    for (const line = `{"n":${AT - 1},"setpoints":[${park}]}\n`; ; ) {
      try {
        writeSync(1, line)
      } catch (error) {
        if (error.code !== 'EAGAIN') throw error
      }
    }
  },
  stalls: () => {
    for (;;);
  },
  'one long line': () => process.stdout.write('x'.repeat(1 << 20)),
  'prints words': () => console.log('debug: all is well'),
  'sends NaN': (n) => process.stdout.write(`{"n":${n},"setpoints":[${park.map(() => 'NaN')}]}\n`),
  'sends null': (n) =>
    say({ n, setpoints: park.with?.(2, Number.NaN) ?? park.map((q, i) => (i === 2 ? Number.NaN : q)) }),
  'too few': (n) => say({ n, setpoints: park.slice(1) }),
  'stale counter': (n) => say({ n: n - 20, setpoints: park }),
  'counter ahead': (n) => say({ n: n + 1, setpoints: park }),
  jumps: (n) => say({ n, setpoints: park.map((q) => q + 0.5) }),
}

// Spoken to by whoever tests that nothing of it is left.
if (how === 'child and grandchild') {
  const { spawn } = await import('node:child_process')
  const child = spawn(process.execPath, ['-e', 'setInterval(() => {}, 1000)'], { stdio: 'ignore' })
  process.stderr.write(`pids ${process.pid} ${child.pid}\n`)
}
if (how === 'heeds nothing') {
  for (const name of ['SIGTERM', 'SIGINT', 'SIGHUP']) process.on(name, () => {})
  setInterval(() => {}, 1000)
  process.stderr.write(`pids ${process.pid}\n`)
}

for await (const line of createInterface({ input: process.stdin })) {
  const told = JSON.parse(line)
  if (told.hello) {
    park = told.park
    say({ ready: 1 })
  } else if (told.n >= AT && FAULTS[how]) {
    FAULTS[how](told.n)
    delete FAULTS[how]
  } else if (told.n) say({ n: told.n, setpoints: park })
}
