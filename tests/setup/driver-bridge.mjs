/**
 * A driver to copy behind other ways than standard input and output: it runs as a program, and what it says and hears is
 * carried by datagrams, a pseudo-terminal or a WebSocket. What carries is no part of the project: sockets of the platform, socat, npm ws.
 */
import { spawn } from 'node:child_process'
import { createSocket } from 'node:dgram'
import { once } from 'node:events'
import { rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { WebSocketServer } from 'ws'

/**
 * @typedef {object} Bridge
 * @property {readonly string[]} section lines of the driver's section in a rig
 * @property {string[]} heard what came to the driver, in order
 * @property {() => Promise<void>} end
 */

/**
 * @param {readonly string[]} run
 * @param {(line: string) => void} onLine
 */
function example([program, ...args], onLine) {
  const child = spawn(/** @type {string} */ (program), args, { stdio: ['pipe', 'pipe', 'ignore'] })
  child.stdin.on('error', () => {})
  createInterface({ input: child.stdout }).on('line', onLine)
  return {
    /** @param {string} line */
    say: (line) => void child.stdin.write(`${line}\n`),
    end: () => ended(child),
  }
}

/** @param {import('node:child_process').ChildProcess} child */
async function ended(child) {
  if (child.exitCode !== null || child.signalCode !== null) return
  const gone = once(child, 'exit')
  child.kill()
  await gone
}

/**
 * @param {readonly string[]} run
 * @returns {Promise<Bridge>}
 */
export async function overUdp(run) {
  const socket = createSocket('udp4')
  socket.bind(0, '127.0.0.1')
  await once(socket, 'listening')
  /** @type {string[]} */
  const heard = []
  let from = 0
  const driver = example(run, (line) => socket.send(line, from, '127.0.0.1'))
  socket.on('message', (bytes, { port }) => {
    from = port
    heard.push(String(bytes))
    driver.say(String(bytes))
  })
  return {
    section: ['kind: udp', `address: "127.0.0.1:${socket.address().port}"`],
    heard,
    end: async () => {
      await driver.end()
      socket.close()
    },
  }
}

let ptys = 0

/**
 * Needs the Debian package socat, which joins the program to the pseudo-terminal by itself: pid is that of socat.
 * @param {readonly string[]} run
 * @returns {Promise<Bridge & { pid: number }>}
 */
export async function overPty(run) {
  const link = join(tmpdir(), `drystroke-driver-${process.pid}-${++ptys}`)
  const socat = spawn('socat', ['-d', '-d', `pty,raw,echo=0,link=${link}`, `exec:${run.join(' ')}`], {
    stdio: ['ignore', 'ignore', 'pipe'],
  })
  for (let said = ''; !said.includes('starting data transfer loop'); )
    said += String((await once(socat.stderr, 'data'))[0])
  socat.stderr.resume()
  return {
    section: ['kind: serial', `device: ${link}`],
    heard: [],
    pid: /** @type {number} */ (socat.pid),
    end: async () => {
      await ended(socat)
      rmSync(link, { force: true })
    },
  }
}

/**
 * Its messages have a form of their own, as those of a bridge to robot middleware would.
 * @param {readonly string[]} run
 * @param {{ dropAt?: number }} [options] dropAt: number of the command at which the first connection breaks
 * @returns {Promise<Bridge>}
 */
export async function overWebSocket(run, { dropAt = Number.POSITIVE_INFINITY } = {}) {
  const server = new WebSocketServer({ host: '127.0.0.1', port: 0 })
  await once(server, 'listening')
  /** @type {string[]} */
  const heard = []
  /** @type {import('ws').WebSocket | null} */
  let peer = null
  let dropped = false
  /** @param {unknown} message */
  const say = (message) => peer?.send(JSON.stringify(message))
  /** @type {readonly string[]} */
  let joints = []
  const driver = example(run, (line) => {
    const { ready, park, n, setpoints } = JSON.parse(line)
    if (ready) say({ state: 'standing by', arms: { stand: park } })
    else say({ arms: { number: n, angles: Object.fromEntries(joints.map((j, i) => [j, setpoints[i]])) } })
  })
  server.on('connection', (socket) => {
    peer = socket
    socket.on('message', (data) => {
      heard.push(String(data))
      const told = JSON.parse(String(data))
      if (told.want) {
        joints = told.of
        driver.say(JSON.stringify({ hello: 1, rig: told.boat, joints, every: told.beat }))
      } else if (told.start) driver.say('{"begin":true}')
      else if (told.helm) {
        if (told.number >= dropAt && !dropped) {
          dropped = true
          socket.terminate()
          return
        }
        const { ahead, turn } = told.helm
        driver.say(JSON.stringify({ n: told.number, t: told.at, surge: ahead, yaw: turn }))
      }
    })
  })
  return {
    section: [
      'kind: websocket',
      `address: "ws://127.0.0.1:${portOf(server)}"`,
      'after-connecting: [{ want: arms, of: $joints, boat: $rig, beat: $period }, { price: $$5 }]',
      'ready: { at: /state, is: standing by, park: /arms/stand }',
      'before-starting: [{ start: true }]',
      'command: { helm: { ahead: $surge, turn: $yaw }, at: $time, number: $count }',
      'before-closing: [{ farewell: $rig }]',
      'setpoints: /arms/angles',
      'counter: /arms/number',
    ],
    heard,
    end: async () => {
      await driver.end()
      for (const client of server.clients) client.terminate()
      await new Promise((resolve) => server.close(resolve))
    },
  }
}

/** @param {WebSocketServer} server */
function portOf(server) {
  const address = server.address()
  if (typeof address !== 'object' || address === null) throw new Error('it has no port')
  return address.port
}
