/** What joins run and arms in a kill: where each of them finds the buses, and how a line is kept from taking anything. */
import { spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { createServer } from 'node:net'
import { join } from 'node:path'

/** As real lines do, they go on whatever else the machine has to do. */
const PRIORITY = 56

/**
 * @typedef {object} Wires
 * @property {string[]} run addresses of the buses, for the run
 * @property {string[]} arms for the stand-in
 * @property {number[] | null} between processes that carry the bytes; null: none
 * @property {() => void} end
 */

/** @param bus `tcp`, `pty`, or interfaces such as `vcan0,vcan1` @param work an empty folder @returns {Promise<Wires>} */
export async function wires(bus, work) {
  if (bus === 'tcp') {
    const ports = await Promise.all([freePort(), freePort()])
    const addresses = ports.map((port) => `slcan:tcp:127.0.0.1:${port}`)
    return { run: addresses, arms: addresses, between: null, end: () => {} }
  }
  if (bus === 'pty') {
    const pairs = await Promise.all(['port', 'starboard'].map((name) => joined(join(work, name))))
    return {
      run: pairs.map(({ near }) => `slcan:${near}`),
      arms: pairs.map(({ far }) => `slcan:${far}`),
      between: pairs.map(({ socat }) => socat.pid),
      end: () => {
        for (const { socat } of pairs) socat.kill('SIGKILL')
      },
    }
  }
  const addresses = bus.split(',').map((name) => `socketcan:${name}`)
  return { run: addresses, arms: addresses, between: null, end: () => {} }
}

async function freePort() {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const { port } = server.address()
  server.close()
  return port
}

async function joined(path) {
  const [near, far] = [`${path}-near`, `${path}-far`]
  const ends = [near, far].map((link) => `pty,raw,echo=0,link=${link}`)
  const socat = spawn('socat', ['-d', '-d', ...ends], { stdio: ['ignore', 'ignore', 'pipe'] })
  spawnSync('chrt', ['--fifo', '--pid', String(PRIORITY), String(socat.pid)], { stdio: 'ignore' })
  let said = ''
  for await (const text of socat.stderr) {
    said += text
    if (said.includes('starting data transfer loop')) break
  }
  return { near, far, socat }
}
